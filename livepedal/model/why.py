"""Why an attack cannot be played: for every spelling of the note that broke it, what forbids it.

The reasons come from the search itself, not from a second set of rules. The attack is tried again from the
readings before it with the note on one given string, and with one constraint lifted at a time: the letter
free for ever ("the string is still wanted"), the foot able to make all its changes at once ("the foot is
busy"), then both. The constraint whose lifting lets the attack through is the one that is named; a test lifts
it again on random music.

The figures are of the reading that comes nearest: what the change would take, and what there is. Where the foot is busy
that is a whole number of its turns (cycles), of which the last begins too late.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from livepedal.harp import Instrument, Pedal, Position, Spelling
from livepedal.model.feet.chords import RIGHT_FIRST_PEDAL, Chords, Sharing, Way
from livepedal.model.feet.covering import Readings
from livepedal.model.feet.free import LONG_AGO
from livepedal.model.feet.letters import UNSET, Letter
from livepedal.model.feet.readings import FootRules
from livepedal.model.feet.schedule import Change, Changes
from livepedal.model.feet.tracker import Pair, Tracker
from livepedal.model.findings import Constraint, Finding, Reason
from livepedal.music.wording import listed

# The nearest reading is sought among the first of them; this affects only the figures, never whether it fails.
MOST_LOOKED_AT = 200


@dataclass(frozen=True, slots=True)
class PedalAtStake:
    """The pedal change that is nearest to being possible, in the reading that comes nearest. Times in µs.

    Attributes:
        late: by how much the reading fails.
        free_at: when the letter of the note is free.
        busy: the other pedals that the foot has to change.
        held: whether a key holds the letter.
    """

    pedal: Pedal
    start: Position
    goal: Position
    needed: int
    available: int
    late: int
    free_at: int
    busy: tuple[Pedal, ...]
    held: bool


def explain(
    finding: Finding, strung: Sequence[int], tracker: Tracker, chords: Chords, instrument: Instrument
) -> Finding:
    """A finding about the pedals with its reasons: one against each spelling of its note.

    It has the pedal change, too, that is nearest to being possible.

    Args:
        finding: about the attack that was judged last.
        strung: its notes in the order of arrival; those before the note that broke it can be played alone.
        tracker: it still has the readings from before the attack.
        chords: of the instrument.
        instrument: the harp.
    """
    note, others = finding.note, tuple(strung[: strung.index(finding.note)])
    reasons: list[Reason] = []
    stakes: list[PedalAtStake] = []
    for spelling in instrument.spellings(note):
        if spelling.fixed:
            continue
        if (int(spelling.string.pedal), int(spelling.position)) not in (chords.options[note] or ()):
            why = "not the spelling asked for"
            reasons.append(Reason(spelling, Constraint.ASKED, why))
            continue
        reason, stake = _explain(tracker, chords, others, note, spelling, finding.us)
        reasons.append(reason)
        if stake is not None:
            stakes.append(stake)
    explained = replace(finding, reasons=tuple(reasons))
    if not stakes:
        return explained
    stake = min(stakes, key=lambda s: s.needed - s.available)
    return replace(
        explained,
        pedal=stake.pedal,
        start=stake.start,
        goal=stake.goal,
        needed=stake.needed,
        available=stake.available,
    )


def _explain(
    tracker: Tracker, chords: Chords, others: tuple[int, ...], note: int, spelling: Spelling, moment: int
) -> tuple[Reason, PedalAtStake | None]:
    pedal, goal = spelling.string.pedal, spelling.position
    together = ways_on(chords, tuple(sorted({*others, note})), note, pedal)
    if not together:
        return _same_letter(chords, others, note, spelling), None
    constraint = _named(tracker, together, moment, chords, pedal)
    alone: tuple[int, ...] = ()
    ways = together
    if constraint is None:
        # Not this note alone: with it spelled so, another note of the attack has no way left.
        ways = ways_on(chords, (note,), note, pedal)
        alone = others
        if tracker.attempt(tracker.before, ways, moment):

            def in_time(some: tuple[int, ...]) -> bool:
                here = ways_on(chords, tuple(sorted({*some, note})), note, pedal)
                return bool(tracker.attempt(tracker.before, here, moment))

            blocking, named = _in_the_way(others, in_time)
            why = f"there is time for {pedal.at(goal)} alone, but not for {_letters(chords, named, spelling)} as well"
            return Reason(spelling, Constraint.OTHER_NOTES, why, other_pitches=blocking), None
        constraint = _named(tracker, ways, moment, chords, pedal) or Constraint.WANTED_AND_BUSY
    found = _readings_nearby(tracker, chords, ways, spelling, moment, constraint)
    stake = min(found, key=lambda one: one.late, default=None)
    why = _sentence(spelling, stake, constraint, moment, tracker)
    if stake is None:
        return Reason(spelling, constraint, why, other_pitches=alone), None
    return Reason(spelling, constraint, why, stake.needed, stake.available, stake.free_at, alone), stake


def ways_on(chords: Chords, pitches: tuple[int, ...], note: int, pedal: Pedal) -> tuple[Sharing, ...]:
    """The ways of a chord that put `note` on a string of `pedal`."""
    group, index = chords.group(pedal)

    def has(way: Way) -> bool:
        return any(need[0] == index and need[2] >> note & 1 for need in way)

    found = []
    for sharing in chords.ways(pitches):
        if group == 0:
            left = tuple(way for way in sharing.left if has(way))
            if left:
                found.append(Sharing(left, sharing.right))
        else:
            right = tuple(way for way in sharing.right if has(way))
            if right:
                found.append(Sharing(sharing.left, right))
    return tuple(found)


def lifted(
    tracker: Tracker,
    ways: tuple[Sharing, ...],
    moment: int,
    chords: Chords,
    pedal: Pedal,
    *,
    wanted: bool = False,
    busy: bool = False,
) -> bool:
    """Whether the attack gets through with constraints of one pedal lifted.

    `wanted`: the pedal's letter has been free for ever. `busy`: the feet make any number of changes at once,
    each in its own time.
    """
    group, index = chords.group(pedal)
    before = tracker.before
    if wanted:
        before = tuple(
            (_freed(left, index), right) if group == 0 else (left, _freed(right, index))
            for left, right in before
        )
    if not busy:
        return bool(tracker.attempt(before, ways, moment))
    rules = tracker.rules
    can_place = rules.can_place
    rules.can_place = _each_alone
    try:
        return bool(tracker.attempt(before, ways, moment))
    finally:
        rules.can_place = can_place


def _each_alone(changes: Changes) -> bool:
    return all(change[1] <= change[0] for change in changes)


def _freed(readings: Readings, index: int) -> Readings:
    found = []
    for letters, owed in readings:
        now = list(letters)
        if now[index][0] != UNSET:
            now[index] = (now[index][0], LONG_AGO, 0, ())
        found.append((tuple(now), owed))
    return tuple(found)


def _named(
    tracker: Tracker, ways: tuple[Sharing, ...], moment: int, chords: Chords, pedal: Pedal
) -> Constraint | None:
    """The constraint whose lifting lets the attack through; None where not even both do."""
    if lifted(tracker, ways, moment, chords, pedal, busy=True):
        return Constraint.FOOT_BUSY
    if lifted(tracker, ways, moment, chords, pedal, wanted=True):
        return Constraint.WANTED
    if lifted(tracker, ways, moment, chords, pedal, wanted=True, busy=True):
        return Constraint.WANTED_AND_BUSY
    return None


def _same_letter(chords: Chords, others: tuple[int, ...], note: int, spelling: Spelling) -> Reason:
    pedal, goal = spelling.string.pedal, spelling.position
    blocking, named = _in_the_way(
        others, lambda some: bool(ways_on(chords, tuple(sorted({*some, note})), note, pedal))
    )
    why = f"no pedal setting has {pedal.at(goal)} together with {_letters(chords, named, spelling)}"
    return Reason(spelling, Constraint.SAME_LETTER, why, other_pitches=blocking)


def _in_the_way(
    others: tuple[int, ...], fits: Callable[[tuple[int, ...]], bool]
) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Those of the other notes without any of which it works, and those to be named.

    Args:
        others: of the attack.
        fits: whether it works with some of them.
    """
    blocking = (
        tuple(other for other in others if fits(tuple(one for one in others if one != other))) or others
    )
    # Some are in the way only together with notes that would have to go as well; then all are named.
    return blocking, others if fits(blocking) else blocking


def _letters(chords: Chords, pitches: tuple[int, ...], beside: Spelling) -> str:
    """Notes by the letters that could give them beside a note on one letter, without octaves: `F♯/G♭ and A♮`.

    By the natural where there is one.
    """
    taken = int(beside.string.pedal)
    names = []
    for pitch in pitches:
        options = chords.options[pitch] or ()
        free = [one for one in options if one[0] != taken or one[1] == beside.position] or options
        natural = [(p, position) for p, position in free if position == Position.NATURAL]
        names.append("/".join(Pedal(p).at(Position(position)) for p, position in natural or free))
    return listed([*dict.fromkeys(name for name in names if name)]) or "a note"


def _readings_nearby(
    tracker: Tracker,
    chords: Chords,
    ways: tuple[Sharing, ...],
    spelling: Spelling,
    moment: int,
    constraint: Constraint,
) -> Iterator[PedalAtStake]:
    """By how much each reading fails, and at which change."""
    pedal, goal = spelling.string.pedal, spelling.position
    group, index = chords.group(pedal)
    rules = tracker.rules
    mine = [way for sharing in ways for way in (sharing.right if group else sharing.left)]
    for letters, owed in _distinct(tracker.before, group):
        stands, _, held, _ = letters[index]
        if stands in (UNSET, goal) and constraint is Constraint.WANTED:
            continue
        # The most favourable of the ways: one may pluck, and so damp, a string that another leaves ringing.
        plucks = (need[2] for way in mine for need in way if need[0] == index)
        free = min(
            (rules.free_for(letters[index], keys, moment) for keys in plucks),
            default=rules.free_since(letters[index]),
        )
        lead = rules.lead[abs(goal - stands)] if stands != UNSET else 0
        short = free - (moment - lead)
        if constraint is Constraint.WANTED or (constraint is Constraint.WANTED_AND_BUSY and short > 0):
            if short > 0:
                there = max(0, moment - free)
                yield PedalAtStake(pedal, Position(stands), goal, lead, there, short, free, (), bool(held))
            continue
        for way in mine:
            busy = _busy(rules, letters, owed, way, moment, RIGHT_FIRST_PEDAL if group else 0)
            if busy is not None:
                late, own = busy
                # Any change of this foot that the attack needs may be the one that is late; name the note's own if it
                # has one.
                change = own.get(index) or next(iter(own.values()))
                turns_us = -(-late // rules.cycle) * rules.cycle
                others = tuple(one for one, _, _ in own.values() if one is not change[0])
                yield PedalAtStake(*change, turns_us, turns_us - late, late, free, others, bool(held))


def _distinct(pairs: tuple[Pair, ...], group: int) -> Readings:
    found = dict.fromkeys(reading for pair in pairs for reading in pair[group])
    return tuple(found)[:MOST_LOOKED_AT]


def _busy(
    rules: FootRules,
    letters: tuple[Letter, ...],
    owed: Changes,
    way: Way,
    moment: int,
    first: int,
) -> tuple[int, dict[int, tuple[Pedal, Position, Position]]] | None:
    """By how much (µs) the foot would be late, and the changes that it has to make for this attack, by letter.

    None where that is not what is in the way.
    """
    fresh: list[Change] = []
    own: dict[int, tuple[Pedal, Position, Position]] = {}
    for index, position, keys in way:
        letter = letters[index]
        if letter[0] in (UNSET, position):
            continue
        free = rules.free_for(letter, keys, moment)
        latest = moment - rules.lead[abs(position - letter[0])]
        if free > latest:
            return None
        pedal = Pedal(first + index)
        own[index] = (pedal, Position(letter[0]), Position(position))
        fresh.append(rules.change(latest, free, first + index))
    if not fresh:
        return None

    def placed(late: int) -> bool:
        return rules.can_place(tuple(sorted([*owed, *((one[0] + late, *one[1:]) for one in fresh)])))

    low, high = 0, (len(owed) + len(fresh)) * rules.cycle + 1
    if placed(0):
        return None
    while not placed(high):
        high *= 2
    while high - low > 1:
        middle = (low + high) // 2
        if placed(middle):
            high = middle
        else:
            low = middle
    return high, own


def _sentence(
    spelling: Spelling, stake: PedalAtStake | None, constraint: Constraint, moment: int, tracker: Tracker
) -> str:
    pedal, letter = spelling.string.pedal, spelling.string.pedal.letter
    if stake is None:
        return f"the foot has no time to set {pedal.at(spelling.position)}"
    change = f"{stake.pedal.at(stake.start)}→{stake.pedal.at(stake.goal)}"
    if constraint is Constraint.FOOT_BUSY or (
        constraint is Constraint.WANTED_AND_BUSY and stake.pedal is not pedal
    ):
        if not stake.busy:
            return f"the foot has no time for {change} so soon after its last change"
        pedals = "pedal" if len(stake.busy) == 1 else "pedals"
        others = listed([one.letter for one in stake.busy])
        return f"the foot has no time for {change} as well as the {others} {pedals}"
    if stake.free_at == tracker.set_at:
        return f"no time for {change} so soon after the pedals were set"
    if tracker.sliding:
        return f"no time for {change} after the last {letter}"
    if stake.free_at >= moment:
        if not stake.held:
            return f"no time for {change} while a low {letter} string is still loud"
        return f"no time for {change} while the {letter} string is held"
    return f"no time for {change} so soon after the {letter} string stops sounding"
