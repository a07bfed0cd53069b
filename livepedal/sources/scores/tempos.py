"""Tempo in a score: the `sound` element and metronome marks of any part. Tempo words alone are not guessed at."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from fractions import Fraction
from xml.etree.ElementTree import Element

from livepedal.sources.scores.measures import Column

STANDARD = Fraction(120)  # quarters a minute until something else is said, as in a MIDI file
SLOWEST, FASTEST = 2, 2000  # beyond these no metronome mark is meant; a damaged one is passed over
_TYPES = {
    name: 4 / Fraction(2) ** power
    for power, name in enumerate(
        ("long", "breve", "whole", "half", "quarter", "eighth", "16th", "32nd", "64th", "128th", "256th"), -2
    )
}  # quarters


def sounded(sound: Element) -> Fraction | None:
    """Quarters a minute that a `sound` element says."""
    try:
        tempo = Fraction(sound.get("tempo", "0")[:20].strip())
    except (ValueError, ZeroDivisionError):
        return None
    return tempo if tempo > 0 else None


def metronome(element: Element) -> Fraction | tuple[Fraction, Fraction] | None:
    """Quarters a minute, or for one note value that becomes another the lengths of both."""
    lengths: list[Fraction] = []
    for child in element:
        if child.tag == "beat-unit":
            lengths.append(_TYPES.get((child.text or "").strip(), Fraction(1)))
        elif child.tag == "beat-unit-dot" and lengths:
            lengths[-1] = lengths[-1] * 3 / 2
        elif child.tag == "per-minute" and lengths:
            number = re.search(r"\d{1,4}(?:\.\d{1,4})?", child.text or "")
            return None if number is None else Fraction(number[0]) * lengths[0]
    return (lengths[0], lengths[1]) if len(lengths) == 2 else None


def tempos_of(
    columns: Sequence[Column], order: Sequence[int], starts: Sequence[int]
) -> Iterator[tuple[int, int]]:
    """(tick, microseconds a quarter) of the measures as played; starts: their ticks."""
    now = STANDARD
    for index, start in zip(order, starts, strict=False):
        for at, said in sorted(columns[index].tempos, key=lambda one: one[0]):
            now = said if isinstance(said, Fraction) else now / said[0] * said[1]
            if SLOWEST <= now <= FASTEST:
                yield start + at, round(60_000_000 / now)
            else:
                now = STANDARD
