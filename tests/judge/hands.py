"""The rules of the hands, and of feet, strings and hands together, stated afresh for OR-Tools CP-SAT.

Nothing here comes from livepedal; the feet's rules are those of `cpsat.py`. Times are integer microseconds,
pitches MIDI numbers (C4 = 60), strings numbers 7 * octave + step with C = 0.

The statement. For each note a choice among the strings that give its pitch. For each attack one
*arrangement*: the lower notes for the left hand, the others for the right, and for each hand one placing or,
in a chord that two hands cannot take at once on the strings chosen, up to two. For each hand and attack: does
it begin a placing, go on with one (upwards, downwards, or back), or rest? The solver chooses all of that at
once, over the whole passage; no history is merged or dropped.

Several bounds are stated one way only, where more freedom for the solver is no gain: a hand may say that it
was later, or wider, than it was.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import combinations, product

from ortools.sat.python import cp_model

from tests.judge import cpsat
from tests.judge.cpsat import Harp, Lit, Notion, Passage

_STEPS = "CDEFGAB"
_NATURAL = (0, 2, 4, 5, 7, 9, 11)
LONG = 1 << 40


@dataclass(frozen=True, slots=True)
class Hand:
    """The figures of one player's hands; reaches in strings, both ends counted."""

    reach: int = 10
    inner: int = 8
    spread: int = 12
    near: int = 5
    fingers: int = 4
    place: int = 100_000
    finger: int = 30_000
    leap: int = 20_000
    turn: int = 60_000
    late: int = 40_000
    restrike: int = 65_000
    repeat: int = 160_000
    harp: Harp = field(default_factory=Harp)


def strings_of(pitch: int, harp: Harp) -> list[tuple[int, int, bool]]:
    """(string, position, fixed) for every string that gives the pitch."""
    found = []
    fixed = dict(harp.fixed)
    for number in range(harp.lowest, harp.highest + 1):
        position = pitch - 12 * (number // 7 + 1) - _NATURAL[number % 7]
        if abs(position) <= 1 and fixed.get(number, position) == position:
            found.append((number, position, number in fixed))
    # Strings without pedals are tuned down for a note that nothing else gives (siba, scordatura).
    for number, usual in () if found else harp.fixed:
        position = pitch - 12 * (number // 7 + 1) - _NATURAL[number % 7]
        if -1 <= position <= max(usual, 0):
            found.append((number, position, True))
    return found


def place_of(pitch: int, harp: Harp) -> int:
    """The string that stands for a pitch where hands are remembered: natural, else flat, else sharp."""
    by_position = {position: number for number, position, _ in strings_of(pitch, harp)}
    return next(by_position[position] for position in (0, -1, 1) if position in by_position)


@dataclass(frozen=True, slots=True)
class Arrangement:
    """Who plays what: for each hand its placings, each the indices of notes (upwards)."""

    left: tuple[tuple[int, ...], ...]
    right: tuple[tuple[int, ...], ...]

    @property
    def rolled(self) -> bool:
        return len(self.left) > 1 or len(self.right) > 1


def arrangements(count: int) -> list[Arrangement]:
    """All of them for so many notes; whether the strings allow it is another matter."""

    def placings(notes: tuple[int, ...]) -> list[tuple[tuple[int, ...], ...]]:
        if not notes:
            return [()]
        return [(notes,), *((notes[:cut], notes[cut:]) for cut in range(1, len(notes)))]

    notes = tuple(range(count))
    return [
        Arrangement(left, right)
        for cut in range(count + 1)
        for left, right in product(placings(notes[:cut]), placings(notes[cut:]))
    ]


def first_unplayable(
    passage: Passage,
    hand: Hand,
    feet: cpsat.Figures | None = None,
    notion: Notion = "held",
) -> int | None:
    """Index of the first attack that makes the passage unplayable, or None.

    Without `feet` only the hands are asked, on any strings that some setting holds; with them feet, strings
    and hands.
    """
    for upto in range(1, len(passage.attacks) + 1):
        if not feasible(passage, hand, feet, notion, upto):
            return upto - 1
    return None


def feasible(passage: Passage, hand: Hand, feet: cpsat.Figures | None, notion: Notion, upto: int) -> bool:
    """Whether the first `upto` attacks can be played."""
    if feet is None:
        notion = "sliding"  # with no grip: every string is free at once
    statement = _Strings(passage, feet or _still(hand), upto, {notion})
    if statement.refuted:
        return False
    if feet is not None:
        for change in statement.changes:
            statement.wait(change, notion)
        statement.feet()
    attacks = passage.attacks[:upto]
    pitches = [sorted({note.pitch for note in attack.notes}) for attack in attacks]
    times = [attack.time - attacks[0].time for attack in attacks]
    chosen = iter(statement.chosen)
    strings: list[list[list[tuple[int, Lit]]]] = []
    for some in pitches:
        strings.append(
            [
                [(s, lit) for (s, _, _), lit in zip(strings_of(p, hand.harp), next(chosen), strict=True)]
                for p in some
            ]
        )
    if feet is None:
        _one_setting(statement.model, pitches, strings, hand.harp)
    else:
        _not_too_soon(statement.model, times, strings, hand)
    _Hands(statement.model, hand, times, pitches, strings).state()
    return statement.solve() is not None


def _still(hand: Hand) -> cpsat.Figures:
    """Feet for which nothing takes time; their changes are not even stated."""
    return cpsat.Figures(0, 0, 0, settle=0, overlap=0, grip=0, harp=hand.harp)


class _Strings(cpsat._Statement):
    """The feet's statement, which also hands out the choices of strings, note by note."""

    def _one_of(self, count: int) -> Sequence[Lit]:
        lits = super()._one_of(count)
        self.__dict__.setdefault("_chosen", []).append(lits)
        return lits

    @property
    def chosen(self) -> list[Sequence[Lit]]:
        return self.__dict__.get("_chosen", [])  # type: ignore[no-any-return]


def _one_setting(
    model: cp_model.CpModel,
    pitches: Sequence[Sequence[int]],
    strings: Sequence[Sequence[Sequence[tuple[int, Lit]]]],
    harp: Harp,
) -> None:
    """Notes of one attack on one letter share its position (the feet's statement says so only where letters
    move).
    """
    for some, chosen in zip(pitches, strings, strict=True):
        options = [
            [
                (s % 7, position, lit)
                for (s, position, fixed), (_, lit) in zip(strings_of(p, harp), lits, strict=True)
                if not fixed
            ]
            for p, lits in zip(some, chosen, strict=True)
        ]
        for one, other in combinations(options, 2):
            for (letter, position, lit), (letter_2, position_2, lit_2) in product(one, other):
                if letter == letter_2 and position != position_2:
                    model.add_bool_or([_no(lit), _no(lit_2)])


def _not_too_soon(
    model: cp_model.CpModel,
    times: Sequence[int],
    strings: Sequence[Sequence[Sequence[tuple[int, Lit]]]],
    hand: Hand,
) -> None:
    """Two plucks of a string lie `restrike` apart; of three the first and the last lie twice `repeat` apart."""
    plucks: dict[int, list[tuple[int, Lit]]] = {}
    for time, notes in zip(times, strings, strict=True):
        for options in notes:
            for string, lit in options:
                plucks.setdefault(string, []).append((time, lit))
    for some in plucks.values():
        for (time, lit), (time_2, lit_2) in combinations(some, 2):
            if time_2 - time < hand.restrike:
                model.add_bool_or([_no(lit), _no(lit_2)])
        for (time, lit), (_, lit_2), (time_3, lit_3) in combinations(some, 3):
            if time_3 - time < 2 * hand.repeat:
                model.add_bool_or([_no(lit), _no(lit_2), _no(lit_3)])


class _Hands:
    """The statement of both hands over all attacks."""

    def __init__(
        self,
        model: cp_model.CpModel,
        hand: Hand,
        times: Sequence[int],
        pitches: Sequence[Sequence[int]],
        strings: Sequence[Sequence[Sequence[tuple[int, Lit]]]],
    ) -> None:
        self.model = model
        self.hand = hand
        self.times = times
        self.pitches = pitches
        self.strings = strings
        self.places = [[place_of(p, hand.harp) for p in some] for some in pitches]
        self.end = times[-1] + LONG

    def state(self) -> None:
        chosen: list[list[tuple[Arrangement, cp_model.IntVar]]] = []
        for k, some in enumerate(self.pitches):
            options = [(a, self.model.new_bool_var("")) for a in arrangements(len(some))]
            self.model.add_exactly_one([lit for _, lit in options])
            self._grips(k, options)
            chosen.append(options)
        for right in (False, True):
            self._over_time(chosen, right)

    # -- one attack ------------------------------------------------------------------------------------------

    def _violations(self, k: int, notes: Sequence[int]) -> list[list[Lit]]:
        """Choices of strings with which these notes are no grip: each a list of literals that hold together."""
        if len(notes) > self.hand.fingers:
            return [[]]
        found: list[list[Lit]] = []
        options = self.strings[k]
        for a, b in combinations(notes, 2):
            for (s, one), (t, two) in product(options[a], options[b]):
                if abs(s - t) > self.hand.reach - 1:
                    found.append([one, two])
        for three in combinations(notes, 3):
            for picked in product(*(options[n] for n in three)):
                low, middle, high = sorted(s for s, _ in picked)
                if middle < high and middle - low > self.hand.inner - 1:
                    found.append([lit for _, lit in picked])
        return found

    def _grips(self, k: int, options: Sequence[tuple[Arrangement, cp_model.IntVar]]) -> None:
        model = self.model
        count = len(self.pitches[k])
        notes = tuple(range(count))
        cut_fails: list[cp_model.IntVar] | None = None
        for arrangement, lit in options:
            for block in (*arrangement.left, *arrangement.right):
                for wrong in self._violations(k, block):
                    model.add_bool_or([~lit, *(_no(one) for one in wrong)])
            if not arrangement.rolled:
                continue
            if cut_fails is None:
                cut_fails = [
                    self._some(self._violations(k, notes[:cut]) + self._violations(k, notes[cut:]))
                    for cut in range(count + 1)
                ]
            for fails in cut_fails:
                model.add_implication(lit, fails)
            for placings in (arrangement.left, arrangement.right):
                if len(placings) > 1:
                    whole = tuple(n for block in placings for n in block)
                    model.add_implication(lit, self._some(self._violations(k, whole)))

    def _some(self, violations: Sequence[Sequence[Lit]]) -> cp_model.IntVar:
        """A literal that can be true only where one of these holds."""
        fails = self.model.new_bool_var("")
        each = []
        for wrong in violations:
            holds = self.model.new_bool_var("")
            for lit in wrong:
                self.model.add_bool_or([~holds, lit])
            each.append(holds)
        self.model.add_bool_or([~fails, *each])
        return fails

    # -- one hand over time ----------------------------------------------------------------------------------

    def _over_time(
        self, chosen: Sequence[Sequence[tuple[Arrangement, cp_model.IntVar]]], right: bool
    ) -> None:
        model, hand = self.model, self.hand
        # What stood before the first attack: nothing. `none` is true until the hand has played.
        before: _After | None = None
        # For each attack: literals of the notes that belong to the placing as it stands.
        placing: list[
            tuple[int, int, cp_model.IntVar]
        ] = []  # (attack, note, literal that it belongs to it now)
        for k, options in enumerate(chosen):
            plays = model.new_bool_var("")
            begins, up, down, back = (model.new_bool_var("") for _ in range(4))
            model.add(sum((begins, up, down, back)) == plays)
            now = _After(model, hand.fingers, self.end)
            held: list[tuple[int, int, cp_model.IntVar]] = []
            for attack, note, lit in placing:
                stays = model.new_bool_var("")
                # It stays where the hand goes on or rests, and goes where it begins a new placing.
                model.add_bool_and([~stays]).only_enforce_if(begins)
                model.add(stays == lit).only_enforce_if(~begins)
                held.append((attack, note, stays))
            struck = [model.new_bool_var("") for _ in self.pitches[k]]
            for arrangement, lit in options:
                mine = arrangement.right if right else arrangement.left
                others = arrangement.left if right else ()
                late = hand.late * sum(len(block) for block in others)
                if not mine:
                    model.add_bool_and([~plays]).only_enforce_if(lit)
                    for one in struck:
                        model.add_bool_and([~one]).only_enforce_if(lit)
                    continue
                model.add_bool_and([plays]).only_enforce_if(lit)
                last = mine[-1]
                for n, one in enumerate(struck):
                    model.add_bool_and([one if n in last else ~one]).only_enforce_if(lit)
                if len(mine) == 2:
                    model.add_bool_and([begins]).only_enforce_if(lit)
                self._begins(k, mine, late, before, now, [lit, begins])
                for going in (up, down, back):
                    self._goes_on(k, last, before, now, [lit, going])
            if before is None:
                for going in (up, down, back):
                    model.add_bool_and([~going])
                model.add(now.played == plays)
            else:
                self._rests(before, now, ~plays)
                model.add(self.times[k] >= before.end + hand.turn).only_enforce_if(back)
                # Going back is for what lies close together. (A claim may be wider than the truth, which is
                # no gain here.)
                model.add(now.high - now.low <= hand.near - 1).only_enforce_if(back)
                # To and fro, a placing has no direction any more; otherwise it keeps the one it has.
                model.add_bool_and([~before.fell, ~before.turned, now.rose]).only_enforce_if(up)
                model.add_bool_and([~before.rose, ~before.turned, now.fell]).only_enforce_if(down)
                model.add_bool_and([now.turned]).only_enforce_if(back)
            self._together(k, struck, held, plays, begins, up, down, back)
            placing = [*held, *((k, n, one) for n, one in enumerate(struck))]
            before = now

    def _need(self, notes: Sequence[int], beyond: cp_model.LinearExprT) -> cp_model.LinearExprT:
        hand = self.hand
        return hand.place + hand.finger * (len(notes) - 1) + hand.leap * beyond

    def _begins(
        self,
        k: int,
        mine: tuple[tuple[int, ...], ...],
        late: int,
        before: _After | None,
        now: _After,
        when: list[cp_model.IntVar],
    ) -> None:
        model, hand = self.model, self.hand
        first, last = mine[0], mine[-1]
        places = self.places[k]
        low, high = places[last[0]], places[last[-1]]
        for claim in (now.low <= low, now.high >= high, now.count == len(last), now.end >= self.times[k]):
            model.add(claim).only_enforce_if(when)
        model.add(now.end <= self.times[k] + (late if len(mine) == 1 else 0)).only_enforce_if(when)
        if before is None:
            if len(mine) == 1:
                model.add(now.end <= self.times[k]).only_enforce_if(when)
            return
        beyond = model.new_int_var(0, 200, "")
        bottom, top = places[first[0]], places[first[-1]]
        for upper, lower in product((before.high, top), (before.low, bottom)):
            model.add(beyond >= upper - lower - (hand.reach - 1)).only_enforce_if(when)
        need = self._need(first, beyond)
        if len(mine) == 2:
            excess = max(0, places[last[-1]] - places[first[0]] - (hand.reach - 1))
            need = need + self._need(last, excess)
        free = [*when, before.played]
        model.add(now.end >= before.end + need).only_enforce_if(free)
        model.add_bool_and([now.played]).only_enforce_if(when)

    def _goes_on(
        self, k: int, notes: Sequence[int], before: _After | None, now: _After, when: list[cp_model.IntVar]
    ) -> None:
        model = self.model
        if before is None:
            return
        places = self.places[k]
        for claim in (
            now.end == self.times[k],
            before.end <= self.times[k],
            now.count == before.count + len(notes),
            now.low <= before.low,
            now.low <= places[notes[0]],
            now.high >= before.high,
            now.high >= places[notes[-1]],
        ):
            model.add(claim).only_enforce_if(when)
        model.add_bool_and([before.played, now.played]).only_enforce_if(when)

    def _rests(self, before: _After, now: _After, rests: Lit) -> None:
        model = self.model
        for one, other in (
            (now.end, before.end),
            (now.low, before.low),
            (now.high, before.high),
            (now.count, before.count),
            (now.rose, before.rose),
            (now.fell, before.fell),
            (now.turned, before.turned),
            (now.played, before.played),
        ):
            model.add(one == other).only_enforce_if(rests)

    def _together(
        self,
        k: int,
        struck: Sequence[cp_model.IntVar],
        held: Iterable[tuple[int, int, cp_model.IntVar]],
        plays: cp_model.IntVar,
        begins: cp_model.IntVar,
        up: cp_model.IntVar,
        down: cp_model.IntVar,
        back: cp_model.IntVar,
    ) -> None:
        """A placing that goes on: all of it within the spread, all but its top within the inner reach, and
        its direction.
        """
        model, hand = self.model, self.hand
        goes = model.new_bool_var("")
        model.add(goes == up + down + back)
        new = [(k, n, one) for n, one in enumerate(struck)]
        old = list(held)
        for (j, n, one), (i, m, two) in product(old, new):
            if self.pitches[i][m] < self.pitches[j][n]:
                model.add_bool_or([~up, ~one, ~two])
            if self.pitches[i][m] > self.pitches[j][n]:
                model.add_bool_or([~down, ~one, ~two])
        everything = [*old, *new]
        for (j, n, one), (i, m, two) in combinations(everything, 2):
            if abs(self.places[j][n] - self.places[i][m]) > max(hand.spread, hand.reach) - 1:
                model.add_bool_or([~goes, ~one, ~two])
        for three in combinations(everything, 3):
            low, middle, high = sorted(self.places[j][n] for j, n, _ in three)
            if middle < high and middle - low > hand.inner - 1:
                model.add_bool_or([~goes, *(~one for _, _, one in three)])


class _After:
    """What is known of one hand after an attack."""

    def __init__(self, model: cp_model.CpModel, fingers: int, end: int) -> None:
        self.end = model.new_int_var(-LONG, end, "")
        self.low = model.new_int_var(0, 100, "")
        self.high = model.new_int_var(0, 100, "")
        self.count = model.new_int_var(0, fingers, "")
        self.rose, self.fell, self.turned, self.played = (model.new_bool_var("") for _ in range(4))


def _no(literal: Lit) -> Lit:
    return (not literal) if isinstance(literal, bool) else ~literal
