"""A spelling that is asked for, as text: "3-7: F♭ major", one or several."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from livepedal.errors import LivepedalError
from livepedal.harp import Key, Pedal, octave_shift
from livepedal.harp.fifths import altered, class_of, fifth_of, octave
from livepedal.sources.text import clean

HOW = (
    'write it as "3-7: F♭ major", "12: F𝄪" or "1-4: D♭ C♭ B♭ E♭ F♭ G♭ A♭" (plain b, n, #, x and bb work too)'
)
MOST_FILE = 100_000  # characters of a spelling file; far more than anyone writes
_BARS = re.compile(r"(?:bars?\s*)?(\d+)\s*(?:(-|–|—|to)\s*(\d+)?)?$", re.IGNORECASE)
_NOTE = re.compile(r"([A-Ga-g])(♭♭|♯♯|bb|##|[♭♮♯𝄪𝄫bn#xX]?)(-?\d)?$")


@dataclass(frozen=True, slots=True)
class WrittenNote:
    """A note as somebody writes it.

    Attributes:
        fifth: its place on the line of fifths.
        octave: C4 is middle C; None: in every octave.
    """

    fifth: int
    octave: int | None = None

    def sounds(self, pitch: int) -> bool:
        """Whether a MIDI number is this note."""
        if pitch % 12 != class_of(self.fifth):
            return False
        return self.octave is None or octave(self.fifth, pitch) == self.octave


@dataclass(frozen=True, slots=True)
class Request:
    """What is asked for in some bars. first, last: bar numbers, None for the first or the last there is."""

    text: str
    first: int | None
    last: int | None
    notes: tuple[WrittenNote, ...]


def parse_request(text: str, middle_c: str = "C4") -> Request:
    """The request of a text "BARS: KEY OR SETTING OR NOTES".

    Raises:
        LivepedalError: saying what is not understood.
    """
    bars, colon, what = text.partition(":")
    shown = clean(text.strip(), 80)
    if not colon:
        raise LivepedalError(f"The spelling {shown!r} does not say for which bars; {HOW}.")
    first, last = _bars(bars.strip(), shown)
    if not what.strip():
        raise LivepedalError(f"The spelling {shown!r} does not say how to spell; {HOW}.")
    return Request(text.strip(), first, last, _notes(what, shown, octave_shift(middle_c)))


def read_requests(path: Path, middle_c: str = "C4") -> tuple[Request, ...]:
    """The requests in a text file, one a line; lines that are empty or begin with ; or // do not count.

    Raises:
        LivepedalError: where it cannot be read or a line is not understood.
    """
    shown = clean(str(path), 200)
    try:
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        reason = clean(error.strerror or str(error))
        raise LivepedalError(f"{shown} cannot be read ({reason}); name a text file.") from None
    except UnicodeDecodeError:
        raise LivepedalError(
            f"{shown} is not a text file; write one spelling on each line, such as 3-7: F♭ major."
        ) from None
    if len(text) > MOST_FILE:
        raise LivepedalError(
            f"{shown} is too long for a file of spellings; write one spelling on each line, such as 3-7: Fb major."
        )
    found = []
    for number, row in enumerate(text.splitlines(), start=1):
        if row.strip() and not row.lstrip().startswith((";", "//")):
            try:
                found.append(parse_request(row, middle_c))
            except LivepedalError as error:
                raise LivepedalError(f"{shown}, line {number}: {error}") from None
    if not found:
        raise LivepedalError(f"{shown} has no spelling in it; write one on each line, such as 3-7: F♭ major.")
    return tuple(found)


def _bars(text: str, shown: str) -> tuple[int | None, int | None]:
    if text.lower() in ("all", "*"):
        return None, None
    match = _BARS.fullmatch(text)
    if match is None:
        raise LivepedalError(
            f"The bars {clean(text, 40)!r} of the spelling {shown!r} are not understood; write 12, 3-7, 3-"
            " or all."
        )
    first = int(match[1])
    last = first if match[2] is None else None if match[3] is None else int(match[3])
    if last is not None and last < first:
        raise LivepedalError(
            f"The bars of the spelling {shown!r} run backwards; write the lower number first."
        )
    return first, last


def _notes(what: str, shown: str, shift: int) -> tuple[WrittenNote, ...]:
    words = [word for word in re.split(r"[\s,;|/]+", what.strip()) if word not in ("", "·", ".")]
    matches = [_NOTE.fullmatch(word) for word in words]
    if not words or any(match is None for match in matches):
        # Not notes: then it is a key, with its mode.
        try:
            key = Key.parse(what)
        except LivepedalError:
            raise LivepedalError(
                f"{clean(what.strip(), 60)!r} in the spelling {shown!r} is neither a key nor notes; {HOW}."
            ) from None
        return tuple(WrittenNote(fifth) for fifth in _notes_of(key.fifths, key.minor))
    notes = []
    for match in matches:
        assert match is not None
        number = None if match[3] is None else int(match[3]) - shift
        notes.append(WrittenNote(fifth_of(Pedal.of_letter(match[1]), altered(match[2]) or 0), number))
    return tuple(dict.fromkeys(notes))


def _notes_of(fifths: int, minor: bool) -> tuple[int, ...]:
    """The written notes of a key; in minor also the raised sixth and seventh, which no signature shows."""
    return (*range(fifths - 1, fifths + 6), *((fifths + 6, fifths + 8) if minor else ()))
