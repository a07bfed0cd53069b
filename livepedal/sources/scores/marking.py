"""The same MusicXML score with marks put in: pedal diagrams, words, and colours of notes.

Every byte of the document stays as it is; between its elements `direction` elements are put in, and a `color`
attribute into the tags of notes. What an earlier pass has put in is known by its ids and by that colour, and is taken
out first, so a marked score can be marked again, and comes back byte for byte when nothing is put in.

Source: MusicXML 4.0 (W3C): elements direction, words, harp-pedals, offset; attributes id (any element may have one)
and color (#RRGGBB).
"""

from __future__ import annotations

import codecs
import io
import re
import zipfile
from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from xml.sax.saxutils import escape

from livepedal.errors import LivepedalError
from livepedal.sources.raw import Refused
from livepedal.sources.scores.measures import TICKS, Anchor
from livepedal.sources.scores.musicxml import Places, places_in
from livepedal.sources.scores.xml_units import document, rootfile
from livepedal.sources.text import clean

COLOUR = "#B3261D"  # a dark red that hardly anybody else writes
_ID = "livepedal-"
_OWN = re.compile(rb'<direction id="livepedal-\d+".*?</direction>| color="#B3261D"', re.DOTALL)


@dataclass(frozen=True, slots=True)
class ScorePut:
    """Words or a harp-pedals diagram to put into a score, above the staff or below it.

    Attributes:
        track: the number of the part, from 1.
        tick: of the song as played.
        pedals: letter, and -1 to 1, of each pedal.
    """

    track: int
    tick: int
    text: str = ""
    pedals: tuple[tuple[str, int], ...] = ()
    above: bool = False


def marked_score(
    data: bytes, name: str, puts: Sequence[ScorePut], coloured: Iterable[tuple[int, int, int]], archive: bool
) -> bytes:
    """The score with these put in.

    Args:
        data: the bytes of the score.
        name: what messages call it.
        puts: what to put in.
        coloured: notes by track, tick and MIDI number.
        archive: write an .mxl.

    Raises:
        LivepedalError: it cannot be read.
    """
    try:
        text, codec = as_utf_8(document(data))
        text = _OWN.sub(b"", text)
        done = _put_in(text, places_in(text, None if codec is None else "utf-8"), puts, coloured)
        done = done if codec is None else done.decode().encode(codec)
        return _packed(data, done) if archive else done
    except Refused as refusal:
        raise LivepedalError(f"{clean(name, 500)} {refusal}") from None


def as_utf_8(text: bytes) -> tuple[bytes, str | None]:
    """UTF-16 as UTF-8, with the codec that makes it as it was; everything else as it is."""
    for mark, codec in ((codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be")):
        if text.startswith(mark):
            try:
                return text.decode(codec).encode(), codec
            except UnicodeDecodeError:
                raise Refused("is damaged (its characters are not UTF-16); export it again.") from None
    return text, None


def _put_in(
    text: bytes, places: Places, puts: Sequence[ScorePut], coloured: Iterable[tuple[int, int, int]]
) -> bytes:
    pieces: dict[int, list[bytes]] = {}
    said: set[tuple[int, str]] = set()
    for put in sorted(puts, key=lambda one: (one.tick, one.track)):
        found = _anchor(places, put)
        if found is None:
            continue
        anchor, late, times = found
        what = _said(put, times)
        # The same at the same place in another pass of a repeat is printed once.
        key = anchor.byte, _said(put, 1) + str(late)
        if key in said:
            continue
        said.add(key)
        number = len(said)
        offset = Fraction(late * anchor.divisions, TICKS)
        moved = f"<offset>{_decimal(offset)}</offset>" if offset else ""
        placement = "above" if put.above else "below"
        lowest = places.parts[put.track - 1].staves
        staff = "" if put.above or lowest == 1 else f"<staff>{lowest}</staff>"
        direction = (
            f'<direction id="{_ID}{number}" placement="{placement}"><direction-type>{what}</direction-type>'
            f"{moved}{staff}</direction>"
        )
        pieces.setdefault(anchor.byte, []).append(direction.encode("ascii", "xmlcharrefreplace"))
    for track, tick, pitch in coloured:
        index, within, _ = _measure(places, tick)
        for note in places.measure(track, index).note_places:
            tag = text[note.byte : text.find(b">", note.byte) + 1]
            if note.note == pitch and note.at == within and b" color=" not in tag:
                pieces[note.byte + len(b"<note")] = [f' color="{COLOUR}"'.encode()]
    out: list[bytes] = []
    done = 0
    for at in sorted(pieces):
        out += [text[done:at], *pieces[at]]
        done = at
    return b"".join([*out, text[done:]])


def _measure(places: Places, tick: int) -> tuple[int, int, int]:
    """The number of the measure that is played at a tick, ticks within it, and the how manyth time it is played."""
    at = max(bisect_right(places.starts, tick, key=lambda start: start[0]) - 1, 0)
    start, index = places.starts[at]
    return index, tick - start, sum(other == index for _, other in places.starts[: at + 1])


def _anchor(places: Places, put: ScorePut) -> tuple[Anchor, int, int] | None:
    """Before which element it goes, how many ticks later it is meant, and the how manyth time its bar is played."""
    index, within, times = _measure(places, put.tick)
    anchors = places.measure(put.track, index).anchors
    at = [anchor.at for anchor in anchors]
    number = bisect_right(at, within) - 1
    if number < 0:
        return None
    anchor = anchors[at.index(at[number])]  # the first at that moment: before its grace notes
    return anchor, within - anchor.at, times


def _said(put: ScorePut, times: int) -> str:
    if put.pedals:
        tunings = "".join(
            f"<pedal-tuning><pedal-step>{letter}</pedal-step><pedal-alter>{altered}</pedal-alter></pedal-tuning>"
            for letter, altered in put.pedals
        )
        return f"<harp-pedals>{tunings}</harp-pedals>"
    again = f" ({ {2: '2nd', 3: '3rd'}.get(times, f'{times}th') } time)" if times > 1 else ""
    return f"<words>{escape(put.text + again)}</words>"


def _decimal(value: Fraction) -> str:
    return str(value.numerator) if value.denominator == 1 else f"{float(value):.4f}".rstrip("0")


def _packed(data: bytes, done: bytes) -> bytes:
    """The document as an archive: the one that it came in with everything else in it, or a new one."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        if data.startswith(b"PK"):
            with zipfile.ZipFile(io.BytesIO(data)) as old:
                score = rootfile(old).filename
                if sum(entry.file_size for entry in old.infolist()) > 8 * len(data) + len(done) + (1 << 26):
                    raise Refused(
                        "is an archive with much more in it than the score; write a .musicxml file instead."
                    )
                for entry in old.infolist():
                    new.writestr(entry, done if entry.filename == score else old.read(entry))
        else:
            container = '<container><rootfiles><rootfile full-path="score.musicxml"/></rootfiles></container>'
            new.writestr("META-INF/container.xml", container)
            new.writestr("score.musicxml", done)
    return out.getvalue()
