"""A little harp player who knows nothing but what is printed: the starting setting and the pedal changes.

It has its strings, its pedals and its feet from the judge's statement of the instrument
(tests/judge/cpsat.py) and shares no code with the model. It plays the notes in time and says what is wrong: a
pitch that no string sounds then, a pedal that stands elsewhere than printed, a foot that would have to be too
quick, a string that is changed while it is wanted and not printed as audible.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from tests.judge import cpsat

FEET = {letter: foot for foot, letters in cpsat.FEET.items() for letter in letters}
STANDS = {"flat": -1, "natural": 0, "sharp": 1}


@dataclass(frozen=True, slots=True)
class Printed:
    """A pedal change as it is printed: when the foot starts, and the attack that it serves (µs)."""

    us: int
    serves: int
    letter: str
    start: int
    goal: int
    foot: str
    audible: bool
    possible: bool = True

    @classmethod
    def of(cls, change: Mapping[str, object]) -> Printed:
        """A change out of the JSON (format livepedal-check, version 1)."""
        return cls(
            micro(change["seconds"]),
            micro(change["for_seconds"]),
            str(change["pedal"]),
            STANDS[str(change["from"])],
            STANDS[str(change["to"])],
            str(change["foot"]),
            bool(change["audible"]),
            bool(change["possible"]),
        )


def micro(seconds: object) -> int:
    assert isinstance(seconds, (int, float))
    return round(seconds * 1_000_000)


def faults(
    passage: cpsat.Passage,
    figures: cpsat.Figures,
    setting: Mapping[str, int | None],
    changes: Sequence[Printed],
    exempt: Iterable[int] = (),
) -> list[str]:
    """What is wrong with a printed pedalling. `exempt`: attacks (µs) that the player is known not to be able
    to play.
    """
    spared = set(exempt)
    found = [
        f"{change} serves an attack that can be played, but is printed as impossible"
        for change in changes
        if not change.possible and change.serves not in spared
    ]
    made = [change for change in changes if change.possible]
    found += _feet(made, figures, [attack.time for attack in passage.attacks])
    mine: dict[str, list[Printed]] = {letter: [] for letter in cpsat.PEDALS}
    for change in sorted(changes, key=lambda change: change.serves):
        mine[change.letter].append(change)
    for letter, own in mine.items():
        stands = setting[letter]
        for change in own:
            if change.start != stands:
                found.append(f"{change}: {letter} stands at {stands}")
            stands = change.goal
        if any(a.us >= b.us for a, b in pairwise(change for change in own if change.possible)):
            found.append(f"{letter} is changed twice in the wrong order")
    held = cpsat.free_times(passage, figures, "held")
    slid = cpsat.free_times(passage, figures, "sliding")
    struck = {attack.time: {note.pitch for note in attack.notes} for attack in passage.attacks}
    for k, attack in enumerate(passage.attacks):
        if attack.time in spared:
            continue
        for pitch in sorted({note.pitch for note in attack.notes}):
            said = _note(pitch, attack.time, held[k][pitch], slid[k][pitch], figures, setting, mine, struck)
            if said is not None:
                found.append(f"{pitch} at {attack.time}: {said}")
    return found


def _feet(made: Sequence[Printed], figures: cpsat.Figures, attacks: Sequence[int]) -> list[str]:
    found = []
    for change in made:
        if FEET[change.letter] != change.foot:
            before = max([time for time in attacks if time < change.serves], default=change.us)
            across = figures.reach_across and cpsat.ACROSS.get(change.letter) == change.foot
            if not across or change.us < before:
                found.append(f"{change}: that is the other foot's pedal")
        if change.us + _takes(change, figures) > change.serves:
            found.append(f"{change}: comes too late")
    for foot in cpsat.FEET:
        own = sorted((change for change in made if change.foot == foot), key=lambda change: change.us)
        starts = [change.us for change in own]
        if figures.two_at_once:
            # Two neighbours that start together are one movement; no third goes with them.
            for one, other in pairwise(own):
                pair = {(one.letter, other.letter), (other.letter, one.letter)} & {*cpsat.NEIGHBOURS}
                if one.us == other.us and pair and starts.count(one.us) == len(own[:2]):
                    starts.remove(one.us)
        found += [
            f"the {foot} foot starts at {a} and at {b}" for a, b in pairwise(starts) if b - a < figures.cycle
        ]
    return found


def _takes(change: Printed, figures: cpsat.Figures) -> int:
    """From the start of a change until its string may be struck."""
    return figures.settle + (
        figures.flick if abs(change.goal - change.start) == 1 else figures.two_notch_flick
    )


def _note(
    pitch: int,
    time: int,
    held: int | None,
    slid: int | None,
    figures: cpsat.Figures,
    setting: Mapping[str, int | None],
    mine: Mapping[str, Sequence[Printed]],
    struck: Mapping[int, Collection[int]],
) -> str | None:
    """What is wrong with one note, or None where there is a string on which nothing is."""
    said = "no string gives it"
    for choice in cpsat.options(pitch, figures.harp):
        if choice is None:
            return None
        letter, position = choice
        stands = setting[letter]
        for change in mine[letter]:
            if change.serves <= time or change.us + _takes(change, figures) <= time:
                stands = change.goal
        if stands != position:
            continue
        later = [change for change in mine[letter] if change.serves > time]
        again = _plucked_again(pitch - position, time, later, struck)
        too_soon = []
        for change in later:
            if not change.possible or (again is not None and change.serves > again):
                continue
            free = slid if change.audible else held
            if pitch - position + change.goal in struck[change.serves]:
                # The finger that comes back to the string damps it.
                finger = max(change.serves - figures.damp, time + figures.grip)
                free = finger if free is None else min(free, finger)
            if _before(change.us, free):
                too_soon.append(change)
        if not too_soon:
            return None
        said = f"its string is wanted until {held} (sliding {slid}), yet there is {too_soon[0]}"
    return said


def _plucked_again(
    string: int, time: int, later: Sequence[Printed], struck: Mapping[int, Collection[int]]
) -> int | None:
    """When a string, told by its pitch at natural, may be plucked again at another pitch: what it did before is over."""
    for after in sorted(struck):
        stands = [
            change.goal
            for change in sorted(later, key=lambda change: change.serves)
            if change.serves <= after
        ]
        if after > time and stands and string + stands[-1] in struck[after]:
            return after
    return None


def _before(us: int, free: int | None) -> bool:
    return free is None or us < free
