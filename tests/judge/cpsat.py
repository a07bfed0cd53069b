"""The rules of the feet, stated afresh for OR-Tools CP-SAT.

Nothing here comes from livepedal: the strings, letters, pitches and every rule are written down a second
time, so that the two can be compared. Times are integer microseconds, pitches MIDI numbers (C4 = 60),
positions -1, 0, 1 (flat, natural, sharp), letters the characters of ``PEDALS`` in the order in which the
pedals stand from the player's left.

The statement. For each note a choice among the strings that give its pitch; notes that may be played
on the same letters, and are struck together, lie on one letter. For each letter and each attack
that may use it the position of its pedal; where the position differs from the one before, there is a pedal
change, an optional interval one cycle long on its foot, and the intervals of one foot do not overlap (so
their starts lie a cycle apart). A change starts when its letter is free in every octave, and early enough for
its own attack. A string that its attack plucks again is damped before, by the finger that comes back to it. What
a string did before its latest pluck is over. The solver chooses all of that at once, and the order of the changes too; no reading is ever
merged or dropped here.

Several conditions are stated one way only ("if the position differs there is a change", not "only if"): what
the solver might assume needlessly only takes freedom from it, so neither feasibility nor a minimum is
touched.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from ortools.sat.python import cp_model

Notion = Literal["held", "sliding"]
Lit = cp_model.LiteralT

#: The seven pedals from the player's left; the left foot has D C B, the right foot E F G A (Canton &
#: Overlach; evelin-harp.cz; W3C MusicXML ``harp-pedals`` has the same order).
PEDALS = "DCBEFGA"
FEET = {"left": "DCB", "right": "EFGA"}
#: Pedals beside each other under one foot, left one first.
NEIGHBOURS = (("D", "C"), ("C", "B"), ("E", "F"), ("F", "G"), ("G", "A"))
#: Innermost pedals that the other foot may take where a player reaches across (common practice, no source).
ACROSS = {"E": "left", "B": "right"}

_STEPS = "CDEFGAB"
_NATURAL = dict(zip(_STEPS, (0, 2, 4, 5, 7, 9, 11), strict=True))


@dataclass(frozen=True, slots=True)
class Note:
    """One key of an attack: its pitch, and when it is released (None: never)."""

    pitch: int
    release: int | None = None


@dataclass(frozen=True, slots=True)
class Attack:
    """Notes struck together at ``time``."""

    time: int
    notes: tuple[Note, ...]


@dataclass(frozen=True, slots=True)
class Start:
    """A setting made at ``time`` (not after the first attack): seven positions in pedal order, None where not
    given.
    """

    time: int
    positions: tuple[int | None, ...]


@dataclass(frozen=True, slots=True)
class Passage:
    """Gathered attacks, strictly later one after another; ``kind`` only says where it came from."""

    attacks: tuple[Attack, ...]
    start: Start | None = None
    kind: str = ""


@dataclass(frozen=True, slots=True)
class Harp:
    """Strings from ``lowest`` to ``highest``, as 7 * octave + step with C = 0; (string, position) of those
    without pedal.

    The default is 47 strings, C1 to G7 (Volpé Bligh), with C1, D1 and G7 without pedal (Canton & Overlach),
    at natural.
    """

    lowest: int = 7
    highest: int = 53
    fixed: tuple[tuple[int, int], ...] = ((7, 0), (8, 0), (53, 0))


@dataclass(frozen=True, slots=True)
class Figures:
    """One player, one harp, how long strings ring: ``ring[pitch]``, 128 of them, or None if they never die away; and
    how long they are too loud for a pedal to move under them: ``loud[pitch]``, or None if they never are.
    """

    flick: int
    two_notch_flick: int
    cycle: int
    settle: int = 20_000
    overlap: int = 80_000
    grip: int = 60_000
    damp: int = 0
    two_at_once: bool = False
    reach_across: bool = False
    harp: Harp = field(default_factory=Harp)
    ring: tuple[int, ...] | None = None
    loud: tuple[int, ...] | None = None

    def __post_init__(self) -> None:
        # The statement counts on it: a change is in time for two notches only if it is in time for one.
        if self.two_notch_flick < self.flick:
            raise ValueError("two notches cannot take less time than one")


def feasible(passage: Passage, figures: Figures, notion: Notion, upto: int) -> bool:
    """Whether the first ``upto`` attacks can be played at all, ``notion`` saying when a string is free."""
    statement = _Statement(passage, figures, upto, {notion})
    if statement.refuted or _out_of_tune(passage, figures.harp, upto):
        return False
    for change in statement.changes:
        statement.wait(change, notion)
    statement.feet()
    return statement.solve() is not None


def first_unplayable(passage: Passage, figures: Figures, notion: Notion) -> int | None:
    """Index of the first attack that makes the passage unplayable, or None; by bisection: more notes never
    help.
    """
    good, bad = 0, len(passage.attacks)
    if feasible(passage, figures, notion, bad):
        return None
    while bad - good > 1:
        middle = (good + bad) // 2
        if feasible(passage, figures, notion, middle):
            good = middle
        else:
            bad = middle
    return bad - 1


Names = Sequence[Mapping[int, Sequence[tuple[str, int]]]]
# Neighbouring strings that sound the wrong way round: (letter, position) of each.
CROSSINGS = ((("E", 1), ("F", -1)), (("B", 1), ("C", -1)))
PART_OF_A_CHORD = 3  # a note whose name parts it from its chord counts as so many more


def best_plan(
    passage: Passage, figures: Figures, relaxed: Figures, names: Names
) -> tuple[int, int, int, int, int, int] | None:
    """The least (audible changes, attacks on crossed strings, tight changes, notes under other names, moves over two
    notches, changes), in that order of weight, over the whole passage; None if unplayable.

    Every change waits for its letter in the sliding sense. It is audible where it starts before the letter is
    free in the held sense. It is tight unless it leaves the relaxed player's flick and settle before its
    attack, and the relaxed player's cycle after each change that the same foot starts earlier. An attack is on
    crossed strings where it plucks one of two that cross while the other, used before or now, stands so. names: for
    each attack the (letter, position) of the written name of each pitch; of an attack the notes under other names
    count, and three times as many as it has under other names, or under their own if these are fewer.
    """
    statement = _Statement(passage, figures, len(passage.attacks), {"held", "sliding"})
    if statement.refuted:
        return None
    model, changes = statement.model, statement.changes
    audible: list[cp_model.IntVar] = []
    tight: list[cp_model.IntVar] = []
    for change in changes:
        statement.wait(change, "sliding")
        audible.append(model.new_bool_var(""))
        statement.wait(change, "held", unless=audible[-1])
        tight.append(model.new_bool_var(""))
        in_time = [change.made, ~tight[-1]]
        late = change.attack - relaxed.settle
        model.add(change.start <= late - relaxed.flick).only_enforce_if(in_time)
        if change.two is not None:
            model.add(change.start <= late - relaxed.two_notch_flick).only_enforce_if([*in_time, change.two])
    statement.feet()
    for i, first in enumerate(changes):
        for j in range(i):
            _in_order(statement, first, changes[j], tight[i], tight[j], figures.cycle, relaxed.cycle)
    made = [change.made for change in changes]
    two = [change.two for change in changes if change.two is not None]
    crossed = statement.crossed()
    away = statement.away(names)
    terms: list[list[cp_model.LinearExprT]] = [[*audible], [*crossed], [*tight], away, [*two], [*made]]
    # One after the other: the sums of all in one number would be too long for the solver.
    found: list[int] = []
    if statement.solve() is None:
        return None
    for some in terms:
        if not some:
            found.append(0)
            continue
        model.minimize(sum(some))
        solver = statement.solve()
        if solver is None:
            return None
        found.append(round(solver.objective_value))
        model.add(sum(some) == found[-1])
    a, c, t, n, w, m = found
    return a, c, t, n, w, m


def _out_of_tune(passage: Passage, harp: Harp, upto: int) -> bool:
    """Whether a string without a pedal is wanted at two pitches; no passage here has a break to retune it in."""
    pitches = {note.pitch for attack in passage.attacks[:upto] for note in attack.notes}
    wanted: dict[int, int] = {}
    for pitch in pitches:
        if None in options(pitch, harp):
            away = {n: pitch - 12 * (n // 7 + 1) - _NATURAL[_STEPS[n % 7]] for n, _ in harp.fixed}
            as_usual = [n for n, usual in harp.fixed if away[n] == usual]
            (string, *_) = as_usual or [n for n, usual in harp.fixed if -1 <= away[n] <= max(usual, 0)]
            if wanted.setdefault(string, pitch) != pitch:
                return True
    return False


def options(pitch: int, harp: Harp) -> list[tuple[str, int] | None]:
    """The (letter, position) of each string that gives ``pitch``; None stands for a string without pedal."""
    found: list[tuple[str, int] | None] = []
    fixed = dict(harp.fixed)
    for number in range(harp.lowest, harp.highest + 1):
        octave, step = divmod(number, 7)
        position = pitch - 12 * (octave + 1) - _NATURAL[_STEPS[step]]
        if number in fixed:
            if position == fixed[number]:
                found.append(None)
        elif -1 <= position <= 1:
            found.append((_STEPS[step], position))
    if not found:
        # Strings without pedals are tuned down for a note that nothing else gives (siba, scordatura).
        offsets = ((pitch - 12 * (n // 7 + 1) - _NATURAL[_STEPS[n % 7]], usual) for n, usual in harp.fixed)
        found += [None for position, usual in offsets if -1 <= position <= max(usual, 0)]
    return found


def free_times(passage: Passage, figures: Figures, notion: Notion) -> list[dict[int, int | None]]:
    """For each attack the pitches struck, and when the string of each is free (None: never)."""
    times = [attack.time for attack in passage.attacks]
    answer: list[dict[int, int | None]] = []
    again: dict[int, int] = {}  # pitch -> the moment of its next strike
    for k in reversed(range(len(times))):
        frees: dict[int, int | None] = {}
        for pitch in {note.pitch for note in passage.attacks[k].notes}:
            # Each note is a key of its own: one of an earlier attack that is still down holds the string too.
            releases = [
                note.release
                for j, attack in enumerate(passage.attacks[: k + 1])
                for note in attack.notes
                if note.pitch == pitch and (j == k or note.release is None or note.release > times[k])
            ]
            ends = [r for r in releases if r is not None]
            end = max(ends) if len(ends) == len(releases) else None  # the last of its keys
            if pitch in again and (end is None or end > again[pitch]):
                end = again[pitch]
            if end is not None:
                m = bisect_right(times, end) - 1  # the latest attack at or before the release
                if m > k and end - times[m] <= figures.overlap:
                    end = times[m]
            if notion == "held" and end is not None and figures.loud is not None:
                end = max(end, times[k] + figures.loud[pitch])
            died = None if figures.ring is None else times[k] + figures.ring[pitch]
            # Sliding: the grip is over, or the key was let go even before that.
            slid = times[k] + figures.grip if notion == "sliding" else None
            known = [t for t in (end, died, slid) if t is not None]
            frees[pitch] = min(known) if known else None
        for pitch in frees:
            again[pitch] = times[k]
        answer.append(frees)
    return answer[::-1]


@dataclass(slots=True, eq=False)
class _Change:
    """A pedal change that may have to be made for an attack; times count from the statement's origin."""

    letter: str
    attack: int  # time of the attack that needs it
    earliest: int  # no spelling lets it start before
    latest: int
    start: cp_model.IntVar
    made: cp_model.IntVar
    two: cp_model.IntVar | None  # it goes two notches
    # Not before these moments, each where all of these hold.
    waits: dict[Notion, list[tuple[list[cp_model.IntVar], int]]]
    by: dict[str, cp_model.IntVar]  # foot -> this foot makes it


class _Statement:
    """The rules for the first ``upto`` attacks, as a model; ``refuted`` where a note has no string at all."""

    def __init__(self, passage: Passage, figures: Figures, upto: int, notions: set[Notion]) -> None:
        self.model = cp_model.CpModel()
        self.figures = figures
        self.changes: list[_Change] = []
        # ids of two changes -> they start at the same moment
        self.together: dict[tuple[int, int], cp_model.IntVar] = {}
        self.refuted = False
        # For each attack the notes: pitch, (letter, position), chosen.
        self.chosen: list[list[tuple[int, tuple[str, int], Lit]]] = []
        # letter -> time of a possible use, how it stands then, the positions that notes choose there
        self.standing: dict[str, list[tuple[int, dict[int, Lit], list[tuple[int, Lit]]]]] = {}
        self.start = passage.start
        attacks = passage.attacks[:upto]
        if not attacks:
            return
        origin = attacks[0].time if passage.start is None else passage.start.time
        self.end = attacks[-1].time - origin
        times = [attack.time - origin for attack in attacks]
        self.ahead = dict(zip(times, [0, *times[:-1]], strict=True))
        frees = {notion: free_times(passage, figures, notion) for notion in sorted(notions)}
        # letter -> its possible uses in order: time, and the notes that may choose it
        uses: dict[str, list[_Use]] = {letter: [] for letter in PEDALS}
        for k, attack in enumerate(attacks):
            here: dict[str, _Use] = {}
            self.chosen.append([])
            octaves: dict[object, Lit] = {}  # by where a note may be played, and is
            for pitch in sorted({note.pitch for note in attack.notes}):
                choices = options(pitch, figures.harp)
                if not choices:
                    self.refuted = True
                    return
                for choice, chosen in zip(choices, self._one_of(len(choices)), strict=True):
                    if choice is None:
                        continue
                    letter, position = choice
                    self.chosen[-1].append((pitch, choice, chosen))
                    self.model.add(octaves.setdefault((tuple(choices), choice), chosen) == chosen)
                    if letter not in here:
                        here[letter] = _Use(attack.time - origin, [])
                        uses[letter].append(here[letter])
                    free = {notion: self._capped(frees[notion][k][pitch], origin) for notion in frees}
                    here[letter].notes.append(
                        _Pluck(pitch - position, position, chosen, attack.time - origin, free)
                    )
        for p, letter in enumerate(PEDALS):
            given = None if passage.start is None else passage.start.positions[p]
            self._letter(letter, uses[letter], given, sorted(notions))

    def _capped(self, free: int | None, origin: int) -> int:
        # Nothing starts after the last attack, so "never" and "much later" are the moment just after it.
        return self.end + 1 if free is None else min(free - origin, self.end + 1)

    def _one_of(self, count: int) -> Sequence[Lit]:
        if count == 1:
            return [True]
        if count == 2:
            first = self.model.new_bool_var("")
            return [first, ~first]
        chosen = [self.model.new_bool_var("") for _ in range(count)]
        self.model.add_exactly_one(chosen)
        return chosen

    def _letter(self, letter: str, uses: list[_Use], given: int | None, notions: list[Notion]) -> None:
        """The position of one pedal through all its possible uses, and the changes between them."""
        model, figures = self.model, self.figures
        positions = sorted(
            {note.position for use in uses for note in use.notes} | ({given} if given is not None else set())
        )
        if len(positions) < 2:
            self.standing[letter] = [
                (use.time, {positions[0]: True}, [(note.position, note.chosen) for note in use.notes])
                for use in uses
            ]
            return  # it stands where it is wanted from the beginning, for good
        before: dict[int, Lit] | None = None  # none: set before the start, wherever it is wanted
        least = 0
        if given is not None:
            before = {p: p == given for p in positions}
        past: list[_Pluck] = []
        for use in uses:
            stands = self._position(positions)
            known = self.standing.setdefault(letter, [])
            known.append((use.time, stands, [(note.position, note.chosen) for note in use.notes]))
            for note in use.notes:
                model.add_implication(note.chosen, stands[note.position])
            if before is None:
                least = use.time  # a string is not free before its pluck
            else:
                # Not used here, it does not move.
                for p in positions:
                    model.add_bool_or([stands[p], _no(before[p]), *(note.chosen for note in use.notes)])
                latest = use.time - figures.settle - figures.flick
                if latest < least:
                    for p in positions:
                        model.add_implication(before[p], stands[p])
                else:
                    waits = {notion: self._waits(past, use, notion) for notion in notions}
                    self._change(letter, use, positions, before, stands, least, waits)
            past += use.notes
            before = stands

    def _position(self, positions: list[int]) -> dict[int, Lit]:
        if len(positions) == 2:
            low = self.model.new_bool_var("")
            return {positions[0]: low, positions[1]: ~low}
        stands = {p: self.model.new_bool_var("") for p in positions}
        self.model.add_exactly_one(stands.values())
        return dict(stands)

    def _waits(
        self, past: list[_Pluck], use: _Use, notion: Notion
    ) -> list[tuple[list[cp_model.IntVar], int]]:
        """What a change for this use waits for: each string plucked before, since its latest pluck."""
        found: list[tuple[list[cp_model.IntVar], int]] = []
        figures = self.figures
        for number, note in enumerate(past):
            free = note.free[notion]
            later = [other.chosen for other in past[number + 1 :] if other.string == note.string]
            here = [other.chosen for other in use.notes if other.string == note.string]
            if notion == "held" and here and figures.damp:
                damped = min(free, max(use.time - figures.damp, note.time + figures.grip))
                self._wait_for(found, [note.chosen, *map(_no, later)], damped)
                self._wait_for(found, [note.chosen, *map(_no, later), *map(_no, here)], free)
            else:
                self._wait_for(found, [note.chosen, *map(_no, later)], free)
        return found

    @staticmethod
    def _wait_for(found: list[tuple[list[cp_model.IntVar], int]], conditions: list[Lit], moment: int) -> None:
        if moment > 0 and not any(condition is False for condition in conditions):
            found.append(([c for c in conditions if not isinstance(c, bool)], moment))  # type: ignore[misc]

    def _change(
        self,
        letter: str,
        use: _Use,
        positions: list[int],
        before: dict[int, Lit],
        stands: dict[int, Lit],
        least: int,
        waits: dict[Notion, list[tuple[list[cp_model.IntVar], int]]],
    ) -> None:
        model, figures = self.model, self.figures
        latest = use.time - figures.settle - figures.flick
        made = model.new_bool_var("")
        start = model.new_int_var(least, latest, "")
        for p in positions:
            model.add_bool_or([made, _no(before[p]), stands[p]])
        two = None
        if {-1, 1} <= set(positions):
            two = model.new_bool_var("")
            model.add_bool_or([two, _no(before[-1]), _no(stands[1])])
            model.add_bool_or([two, _no(before[1]), _no(stands[-1])])
            model.add(start <= use.time - figures.settle - figures.two_notch_flick).only_enforce_if(two)
        own = next(foot for foot, letters in FEET.items() if letter in letters)
        by = {own: made}
        if figures.reach_across and letter in ACROSS:
            by = {own: model.new_bool_var(""), ACROSS[letter]: model.new_bool_var("")}
            model.add(sum(by.values()) == made)
            # Reaching across is for the gap before the attack that needs it: not before the attack ahead of
            # that one.
            model.add(start >= self.ahead[use.time]).only_enforce_if(by[ACROSS[letter]])
        self.changes.append(_Change(letter, use.time, least, latest, start, made, two, waits, by))

    def wait(self, change: _Change, notion: Notion, unless: cp_model.IntVar | None = None) -> None:
        """The change does not start before its letter is free."""
        conditions = [change.made] if unless is None else [change.made, ~unless]
        for chosen, moment in change.waits[notion]:
            self.model.add(change.start >= moment).only_enforce_if([*conditions, *chosen])

    def crossed(self) -> list[cp_model.IntVar]:
        """For each attack and crossing, whether it is played on crossed strings."""
        model = self.model
        found = []
        for pair in CROSSINGS:
            for time in sorted({use[0] for letter, _ in pair for use in self.standing.get(letter, [])}):
                needs: list[Lit] = []
                plucks: list[Lit] = []
                for letter, position in pair:
                    uses = [use for use in self.standing.get(letter, []) if use[0] <= time]
                    given = self.start is not None and self.start.positions[PEDALS.index(letter)] is not None
                    if not uses:
                        stands = given and self.start.positions[PEDALS.index(letter)] == position
                        needs.append(stands)
                        continue
                    needs.append(uses[-1][1].get(position, False))
                    if not given:
                        used = model.new_bool_var("")
                        ever = [chosen for _, _, notes in uses for _, chosen in notes]
                        if any(chosen is True for chosen in ever):
                            model.add(used == 1)
                        else:
                            model.add_max_equality(used, ever)
                        needs.append(used)
                    plucks += [
                        c for when, _, notes in uses for p, c in notes if (when, p) == (time, position)
                    ]
                if any(need is False for need in needs) or not plucks:
                    continue
                plucked = model.new_bool_var("")
                if any(c is True for c in plucks):
                    model.add(plucked == 1)
                else:
                    model.add_max_equality(plucked, plucks)
                here = model.new_bool_var("")
                model.add_bool_or([here, ~plucked, *(_no(need) for need in needs)])
                found.append(here)
        return found

    def away(self, names: Names) -> list[cp_model.LinearExprT]:
        """For each attack how far its names are from the written ones."""
        found: list[cp_model.LinearExprT] = []
        for notes, written in zip(self.chosen, names, strict=True):
            count = len({pitch for pitch, _, _ in notes})
            other = [chosen for pitch, choice, chosen in notes if choice not in written[pitch]]
            if not other:
                continue
            away = sum(other)
            less = self.model.new_int_var(0, count, "")
            # the lesser of the two sides, as nothing keeps it from being less but this
            small = self.model.new_bool_var("")
            self.model.add(less >= away).only_enforce_if(small)
            self.model.add(less >= count - away).only_enforce_if(~small)
            found.append(away + PART_OF_A_CHORD * less)
        return found

    def feet(self) -> None:
        """Starts on one foot a cycle apart; with ``two_at_once`` a change may ride along with its right
        neighbour.
        """
        riding = self._pairs() if self.figures.two_at_once else {}
        for foot in FEET:
            busy = []
            for change in self.changes:
                if foot not in change.by:
                    continue
                present = change.by[foot]
                if riding.get(id(change)):
                    # With its neighbour it takes no time of its own.
                    alone = self.model.new_bool_var("")
                    self.model.add_bool_or([alone, ~present, *riding[id(change)]])
                    present = alone
                size = self.figures.cycle
                busy.append(self.model.new_optional_fixed_size_interval_var(change.start, size, present, ""))
            self.model.add_no_overlap(busy)

    def _pairs(self) -> dict[int, list[cp_model.IntVar]]:
        riding: dict[int, list[cp_model.IntVar]] = {}
        carrying: dict[int, list[cp_model.IntVar]] = {}
        for left, right in NEIGHBOURS:
            foot = next(foot for foot, letters in FEET.items() if left in letters)
            for rider in self.changes:
                for carrier in self.changes:
                    if (rider.letter, carrier.letter) != (left, right):
                        continue
                    if rider.latest < carrier.earliest or carrier.latest < rider.earliest:
                        continue
                    pair = self.model.new_bool_var("")
                    self.model.add_implication(pair, rider.by[foot])
                    self.model.add_implication(pair, carrier.by[foot])
                    self.model.add(rider.start == carrier.start).only_enforce_if(pair)
                    riding.setdefault(id(rider), []).append(pair)
                    carrying.setdefault(id(carrier), []).append(pair)
                    self.together[id(rider), id(carrier)] = pair
        for change in self.changes:  # at most two: one pair each
            self.model.add_at_most_one([*riding.get(id(change), []), *carrying.get(id(change), [])])
        return riding

    def solve(self) -> cp_model.CpSolver | None:
        """The solver with a best solution, or None where there is none; one worker, so the same each time."""
        solver = cp_model.CpSolver()
        for name, value in _PARAMETERS.items():
            setattr(solver.parameters, name, value)
        status = solver.solve(self.model)
        if status == cp_model.INFEASIBLE:
            return None
        if status != cp_model.OPTIMAL and not (
            status == cp_model.FEASIBLE and not self.model.has_objective()
        ):
            raise RuntimeError(f"the solver gave no answer: {solver.status_name(status)}")
        return solver


# The models are small: little of the solver's preparation pays for itself, nor do linear relaxations.
_PARAMETERS: dict[str, int | bool] = {
    "num_workers": 1,
    "random_seed": 1,
    "cp_model_probing_level": 0,
    "symmetry_level": 0,
    "linearization_level": 0,
    "max_presolve_iterations": 1,
}


@dataclass(slots=True)
class _Pluck:
    """A note that may be played on a string of a letter, told by the pitch that it has at natural."""

    string: int
    position: int
    chosen: Lit
    time: int
    free: dict[Notion, int]


@dataclass(slots=True)
class _Use:
    time: int
    notes: list[_Pluck]


def _no(literal: Lit) -> Lit:
    return (not literal) if isinstance(literal, bool) else ~literal


def _in_order(
    statement: _Statement,
    a: _Change,
    b: _Change,
    tight_a: cp_model.IntVar,
    tight_b: cp_model.IntVar,
    cycle: int,
    relaxed: int,
) -> None:
    """Of two changes by one foot, the later is tight unless it leaves the relaxed player's cycle after the
    earlier.
    """
    model = statement.model
    same = [
        statement.together[pair] for pair in ((id(a), id(b)), (id(b), id(a))) if pair in statement.together
    ]
    for foot in sorted(a.by.keys() & b.by.keys()):
        if a.earliest - b.latest >= max(relaxed, cycle) or b.earliest - a.latest >= max(relaxed, cycle):
            continue
        both = [a.by[foot], b.by[foot], *(~pair for pair in same)]
        a_first = model.new_bool_var("")
        for first, second, order, tight in ((a, b, a_first, tight_b), (b, a, ~a_first, tight_a)):
            model.add(second.start >= first.start + cycle).only_enforce_if([*both, order])
            model.add(second.start >= first.start + relaxed).only_enforce_if([*both, order, ~tight])
