"""When pedals move, judged from the stated rule alone: was there a moment that harpists would rather take?

The rule (common practice, no source; Canton & Overlach for the slide): changes are made early, in the rest, at the bar
line, at the beat before; left and right together; one that is heard as late as the foot can. All other changes stay where
they are while one is looked at. It knows the notes with their letters, the changes, bar lines and beats, and shares no
code with livepedal. All times are µs.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

NEVER = 1 << 60
NEAR = 2_000  # a moment is as good as a line so near to it


@dataclass(frozen=True, slots=True)
class Note:
    """A note: when it is struck and let go, its letter, its string (the pitch that it has at natural) and its pitch."""

    us: int
    release: int
    letter: str
    string: int
    pitch: int


@dataclass(frozen=True, slots=True)
class Change:
    """A change: when it starts, the attack that needs it, and how long before that it must start to be at ease."""

    us: int
    serves: int
    letter: str
    foot: str
    audible: bool
    lead: int


@dataclass(frozen=True, slots=True)
class Figures:
    """Of the player and the harp; cycle: at ease; ring, loud: by pitch."""

    cycle: int
    overlap: int
    grip: int
    damp: int
    ring: Sequence[int]
    loud: Sequence[int]


class Lines:
    """Bar lines and beats in order, and the rests of some music."""

    def __init__(self, bars: Sequence[int], beats: Sequence[int], notes: Sequence[Note]) -> None:
        self.bars, self.beats = bars, beats
        self.rests: list[tuple[int, int]] = []
        silent = NEVER
        for note in sorted(notes, key=lambda note: note.us):
            if silent < note.us:
                self.rests.append((silent, note.us))
            silent = note.release if silent == NEVER else max(silent, note.release)

    def length(self, us: int, lines: Sequence[int]) -> int:
        """Of the beat or bar that a moment lies in."""
        place = min(max(bisect_right(lines, us + NEAR), 1), len(lines) - 1)
        return lines[place] - lines[place - 1]

    def rank(self, us: int, serves: int) -> tuple[bool, int, int]:
        """How a change for an attack stands there, the smaller the better: a beat ahead or not, in which kind of place."""
        beat_before = self.length(serves - 2 * NEAR, self.beats)
        ahead = us <= serves - beat_before + NEAR
        bar, beat = self.length(us, self.bars), self.length(us, self.beats)
        place = bisect_right(self.rests, (us + NEAR, NEVER)) - 1
        rest = 0
        if place >= 0 and us < self.rests[place][1]:
            begin, end = self.rests[place]
            rest = (
                2
                if end - begin >= bar - NEAR
                else int(end - begin >= beat - NEAR and end > serves - beat_before - bar)
            )
        line = 2 if _near(us, self.bars) else int(_near(us, self.beats))
        return not ahead if rest or line else 2, -rest, -line

    def between(self, low: int, high: int) -> list[int]:
        """The moments between two that harpists may like: beats, bar lines, the beginnings of rests."""
        found = [low]
        for lines in (self.beats, self.bars, [begin for begin, _ in self.rests]):
            found += lines[bisect_left(lines, low) : bisect_right(lines, high)]
        return found


def _near(us: int, lines: Sequence[int]) -> bool:
    place = bisect_left(lines, us - NEAR)
    return place < len(lines) and lines[place] <= us + NEAR


def quiet_since(change: Change, notes: Sequence[Note], attacks: Sequence[int], figures: Figures) -> int:
    """Since when all strings of its letter are quiet, and their notes over, for the attack that a change serves."""
    last: dict[int, Note] = {}
    for note in notes:
        if note.letter == change.letter and note.us < change.serves:
            last[note.string] = note
    again = {note.string for note in notes if note.letter == change.letter and note.us == change.serves}
    since = -NEVER
    for string, note in last.items():
        end = min(note.release, change.serves)
        before = attacks[bisect_right(attacks, end) - 1]
        if before > note.us and end - before <= figures.overlap:
            end = before
        end = min(max(end, note.us + figures.loud[note.pitch]), note.us + figures.ring[note.pitch])
        if string in again:
            end = min(end, max(change.serves - figures.damp, note.us + figures.grip))
        since = max(since, end, note.us)
    return since


def _spans(
    changes: Sequence[Change], notes: Sequence[Note], figures: Figures
) -> dict[Change, tuple[int, int]]:
    """Between which moments each change can be at ease and quiet while the others stay; and no later than it is now."""
    attacks = sorted({note.us for note in notes})
    by_letter: dict[str, list[Note]] = {}
    for note in notes:
        by_letter.setdefault(note.letter, []).append(note)
    found = {}
    for foot in ("left", "right"):
        own = [change for change in changes if change.foot == foot]
        for number, change in enumerate(own):
            low = quiet_since(change, by_letter.get(change.letter, []), attacks, figures)
            high = change.serves - change.lead
            if number:
                low = max(low, own[number - 1].us + figures.cycle)
            if number + 1 < len(own):
                high = min(high, own[number + 1].us - figures.cycle)
            found[change] = low, high
    return found


def complaints(
    changes: Sequence[Change], notes: Sequence[Note], lines: Lines, figures: Figures
) -> list[tuple[str, Change, int]]:
    """What harpists would rather have otherwise: "later", "line" or "pair", the change, and a better moment for it.

    Args:
        changes: in order of time, those that there is time for.
        notes: in order of time.
        lines: of the music.
        figures: of the player.
    """
    spans = _spans(changes, notes, figures)
    paired = {
        change
        for one, other in pairwise(changes)
        if one.foot != other.foot and other.us - one.us <= NEAR
        for change in (one, other)
    }
    found = []
    for number, change in enumerate(changes):
        low, high = spans[change]
        if change.audible:
            late = min(high, change.serves - change.lead)
            if change.us < late - NEAR:
                found.append(("later", change, late))
            continue
        if change in paired:
            continue
        if low <= high:
            followed = high < change.serves - change.lead
            best = min(lines.between(low, high), key=lambda us: (lines.rank(us, change.serves), -us))
            if not followed and lines.rank(best, change.serves) < lines.rank(change.us, change.serves):
                found.append(("line", change, best))
        beat = lines.length(change.serves - 2 * NEAR, lines.beats)
        for other in changes[max(0, number - 8) : number + 8]:
            if other.foot == change.foot or other in paired or other.audible:
                continue
            theirs = spans[other]
            if abs(other.serves - change.serves) <= beat + NEAR and max(low, theirs[0]) <= min(
                high, theirs[1]
            ):
                found.append(("pair", change, max(low, theirs[0])))
                break
    return found
