"""Numbers and places in words: what the sentences of the model, of advice and of views share.

The sentences themselves stand where their facts are known (DEVELOPERS.md, "How to change a sentence").
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from fractions import Fraction
from typing import TYPE_CHECKING

from livepedal.harp import Position, Spelling, pitch_name
from livepedal.sources.text import are as are
from livepedal.sources.text import counted as counted

if TYPE_CHECKING:
    from livepedal.music.timemap import Place

# Parts of a beat that have a sign of their own; those of the second line are not what anybody counts in, so they are
# shown only where they are meant exactly.
_SIGNS = {Fraction(0): "", Fraction(1, 4): "¼", Fraction(1, 3): "⅓", Fraction(1, 2): "½"}
_SIGNS |= {Fraction(2, 3): "⅔", Fraction(3, 4): "¾"}
_FINE = {Fraction(1, 8): "⅛", Fraction(3, 8): "⅜", Fraction(5, 8): "⅝", Fraction(7, 8): "⅞"}
_FINE |= {Fraction(1, 6): "⅙", Fraction(5, 6): "⅚"}

_LETTER = "(?:[A-G][♭♮♯]|·)"
_SETTING = re.compile(rf"{_LETTER}(?: {_LETTER}){{2}} \| {_LETTER}(?: {_LETTER}){{3}}")


def moment(us: int) -> str:
    """A moment (µs): "7.35 s", from a minute on "1:07.35"."""
    hundredths = round(us / 10_000)
    minutes, rest = divmod(hundredths, 6000)
    return f"{minutes}:{rest / 100:05.2f}" if minutes else f"{rest / 100:.2f} s"


def beat(value: Fraction) -> str:
    """A beat as musicians count it, to the nearest quarter or third: "1", "2½", "1⅓"; none is shown as the next."""
    whole = int(value)
    part = value - whole
    sign = _FINE.get(part)
    return f"{whole}{_SIGNS[min(_SIGNS, key=lambda one: abs(one - part))] if sign is None else sign}"


def place_text(place: Place) -> str:
    """Bar and beat: "bar 2, beat 3½"."""
    return f"bar {place.bar}, beat {beat(place.beat)}"


def bar_span(first: int, last: int) -> str:
    """One bar or all from one to another: "bar 2", "bars 2 and 3", "bars 2 to 5"."""
    return bar_list(range(first, last + 1))


def bar_list(bars: Iterable[int], most: int | None = None) -> str:
    """Ascending bars, neighbours together: "bar 3", "bars 1 to 6", "bars 1, 2 and 5 to 9".

    Args:
        bars: the numbers of the bars.
        most: so many bars and runs of bars are named: "bars 1, 2, 5 to 9 and 12 more".
    """
    return numbered("bar", bars, most)


def numbered(thing: str, numbers: Iterable[int], most: int | None = None) -> str:
    """Things by their ascending numbers, as `bar_list` has bars: "findings 1 to 4"."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    spans: list[tuple[str, int]] = []  # text, and how many things it stands for
    for run in runs:
        spans += [(f"{run[0]} to {run[-1]}", len(run))] if len(run) > 2 else [(str(one), 1) for one in run]
    left = sum(count for _, count in spans[most:]) if most else 0
    texts = [text for text, _ in spans[:most]] + ([f"{left} more"] if left else [])
    return f"{thing}{'' if sum(map(len, runs)) == 1 else 's'} {listed(texts)}"


def note_name(pitch: int, spellings: Sequence[Spelling], middle_c: str) -> str:
    """A note by the strings that have it: "F♮4", "F♯4/G♭4".

    If one of them is a natural, only that is named: a composer who played F knows it as F and not as
    E♯.
    """
    if not spellings:
        return pitch_name(pitch, middle_c=middle_c)
    natural = [s for s in spellings if s.position is Position.NATURAL]
    return "/".join(s.named(middle_c) for s in natural or spellings)


def listed(names: Sequence[str]) -> str:
    """Several things in words: "F, A and C"."""
    return " and ".join((", ".join(names[:-1]), names[-1])) if len(names) > 1 else "".join(names)


def plain(text: str) -> str:
    """A text without the naturals that nobody would write: A4, not A♮4.

    They stay where another sign of that letter is near, and in whole settings.
    """
    if "♮" not in text:
        return text
    running = _SETTING.sub("", text)
    signed = set(re.findall("([A-G])[♭♯𝄫𝄪]", running))
    found, at = [], 0
    for setting in (*_SETTING.finditer(text), None):
        piece = text[at : setting.start() if setting else len(text)]
        found.append(re.sub("([A-G])♮", lambda one: one[1] if one[1] not in signed else one[0], piece))
        if setting:
            found.append(setting[0])
            at = setting.end()
    return "".join(found)


def not_all_tried(tried: str) -> str:
    """A remark that a better way may exist.

    Args:
        tried: what was tried, such as "pedalling".
    """
    return f"A better way may exist: not every {tried} was tried"


def within(sentence: str) -> str:
    """A sentence as it stands within another one: with a small letter."""
    return sentence[:1].lower() + sentence[1:]
