"""The readings of one foot: every history of spellings and pedal changes that still matters.

A reading is a pair (letters, changes). For each letter of the foot it holds the position and what its strings
do; `changes` are the pedal changes that it owes, as windows of starts (schedule.py). A letter is UNSET while it
was not used: it could have been set before the start.

An attack turns each reading into one for every way to put its notes on strings (chords.py). A letter that
stands elsewhere owes a change: its start lies between the moment when the letter is free for it and the attack
less `settle` and the `flick` (1.3 flicks for two notches). The new reading lives on where all that it owes
can be placed together.

*When a letter is free* follows from its strings (free.py). Which of them an attack plucks again, and so damps
beforehand, nobody knows before that attack. So a letter keeps apart: since when its other strings are free; the
keys that still hold a string; and its `late` strings, which came free lately enough for damping to matter to an
attack that is still to come, each with its key. A late string that was free `damp` before an attack, or before a
later pluck of the letter, is one of the others. Nothing is lost by that: damped it would be free no sooner, and
nothing of this letter moves before its last pluck. Two keys of one letter are on the same string just where
they are less than three semitones apart, since strings of one letter are octaves apart and a pedal moves two
semitones at the most; and a pluck is the end of whatever its string did before.

Three rules keep the readings few. Each is exact: it never turns a playable future into an unplayable one or
back.

*Equal* readings are one. What came before an attack on a letter cannot be told apart later: its strings are
free no earlier than the attack, and that is all that is kept while its key is down.

*A quiet foot forgets* (`cut`). Let H be a moment, not after the attack that is about to be judged, such that
every owed change with an earliest start before H, and besides one change of every letter that came free
before H, damped or not, can be placed with the last cycle over by H (and over in time for the attack, settle and
two notches included); and such that no other letter can be free before H, whatever an attack plucks again. Then
those letters become UNSET and those changes are forgotten. Proof: any later change starts at
H or after, whatever letter it is of: letters free before H are UNSET and owe no change until they are used
again, at the attack or later; the others are not free before H, even damped. So no later change lies within a
cycle of a forgotten one, and whatever position a forgotten letter needs at its next use, the one change of it was
placed in time. The other way round, a schedule of the original is one of the forgetful reading, which owes less.
Trying several H, the latest first, is only a matter of forgetting more. Where a foot may reach across, a
change that it makes for the other one starts at the attack before or later (tracker.py), so there H must not
lie after that.

*A reading that is at least as good makes another superfluous* (`covers`). Let a and b be readings of one
foot. If for each letter a has it UNSET; or in the same position, each of its strings free no later than one of b's
that is not plucked again, or held or late as the same string is in b; or elsewhere but free early enough, without
damping, to be changed before the next attack can need it, that change being added to
what a owes; and if what a owes then maps one to one into what b owes, each window of a containing its
partner's, then any future that b can play a can play: it puts its changes where b puts the partners, and
every later change of b's is a's too, or a needs none. A letter that stood elsewhere needs one change at its
next use whatever that is, for which it has the slot of the added one.

*After an attack that a foot cannot play* (`force`, `relaxed`) it owes nothing, and its letters that were free early
enough, without damping, to be changed before the attack become UNSET: as if it had had time for all that was before.
The attack's letters stand as it needs them; keys that are down go on holding strings that the attack does not pluck
again, and loud ones stay loud. So a reading that covered another one still does: where the one was free early
enough, or UNSET, it is UNSET now, and nobody owes anything. (Without that, a reading could cover another by the
slot of a change that this one owed, and then be worse when the other's debts were dropped.)
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from livepedal.harp import Foot, Player
from livepedal.model.feet.chords import Need, Way
from livepedal.model.feet.free import LONG_AGO, FreeRule
from livepedal.model.feet.quiet import quiet_until
from livepedal.model.feet.schedule import Change, Changes, tester

UNSET = 2

# (key, when it was struck, when its string is free unless it is plucked again), by key
Late = tuple[tuple[int, int, int], ...]
# (position or UNSET, since when its other strings are free, bit mask of the keys that hold one, its late strings)
Letter = tuple[int, int, int, Late]
Reading = tuple[tuple[Letter, ...], Changes]
Readings = tuple[Reading, ...]

FRESH: Letter = (UNSET, LONG_AGO, 0, ())

MOST_COMPARED = (
    150  # with more, superfluous ones are not sought: the cost grows as the square of their number
)
MOST_REMEMBERED = 1_000  # answers; then they are forgotten, to limit memory


def _remembered(can_place: Callable[[Changes], bool]) -> Callable[[Changes], bool]:
    """The same question; answers about three changes or more, which take long, are remembered for a while."""
    answers: dict[Changes, bool] = {}

    def ask(changes: Changes) -> bool:
        if len(changes) < 3:
            return can_place(changes)
        answer = answers.get(changes)
        if answer is None:
            if len(answers) >= MOST_REMEMBERED:
                answers.clear()
            answer = answers[changes] = can_place(changes)
        return answer

    return ask


def _near(keys: int) -> int:
    """All keys that share a string of a letter with one of these (bit masks)."""
    return keys >> 2 | keys >> 1 | keys | keys << 1 | keys << 2


class FootRules:
    """One player's figures, and what follows from them for a foot.

    Attributes:
        free: when strings are free, by the player's figures and one of the two notions.
        struck: for each key (MIDI number) when it was struck last (µs).
    """

    __slots__ = (
        "can_place",
        "cycle",
        "free",
        "latest_lead",
        "lead",
        "margin",
        "moved",
        "pedals",
        "struck",
        "tags",
    )

    def __init__(self, player: Player, free: FreeRule, struck: list[int]) -> None:
        self.cycle = player.cycle
        # How long before its attack a change of 0, 1 or 2 notches must begin (µs).
        self.lead = player.leads
        self.latest_lead = max(self.lead)
        self.margin = max(self.cycle, self.latest_lead)
        self.can_place = _remembered(tester(player.cycle, player.two_at_once))
        self.tags = player.two_at_once
        # For the first pedal of each foot what names a change of each.
        self.pedals = {
            int(foot.pedals[0]): tuple([(int(pedal) if self.tags else 0,) for pedal in foot.pedals])
            for foot in Foot
        }
        self.free = free
        self.struck = struck
        # Whether a change was considered since this was last set to False: if none was, every player would
        # have done the same.
        self.moved = False

    def free_since(self, letter: Letter) -> int:
        """When the letter's strings are free, as far as is known now, none being plucked again: that of a key still
        down at the latest when it dies away.
        """
        _, free, keys, late = letter
        for _, _, end in late:
            if end > free:
                free = end
        struck, longest = self.struck, self.free.longest
        while keys:
            bit = keys & -keys
            key = bit.bit_length() - 1
            end = struck[key] + longest[key]
            if end > free:
                free = end
            keys ^= bit
        return free

    def free_for(self, letter: Letter, keys: int, moment: int) -> int:
        """The same for the change that an attack at `moment` (µs) needs, which plucks these keys (a bit mask) on
        strings of the letter.
        """
        if not self.free.damp:
            return self.free_since(letter)
        again = _near(keys)
        damped = self.free.damped
        _, free, held, late = letter
        for key, since, end in late:
            if again >> key & 1:
                end = damped(end, since, moment)
            if end > free:
                free = end
        struck, longest = self.struck, self.free.longest
        while held:
            bit = held & -held
            key = bit.bit_length() - 1
            end = struck[key] + longest[key]
            if again & bit:
                end = damped(end, struck[key], moment)
            if end > free:
                free = end
            held ^= bit
        return free

    @staticmethod
    def _plucked(letter: Letter, position: int, keys: int, moment: int) -> Letter:
        """The letter after an attack that plucks these keys on it: what its other strings did goes on."""
        _, free, held, late = letter
        if held:
            held &= ~_near(keys)
        if late:
            again = _near(keys)
            late = tuple([one for one in late if one[2] > moment and not again >> one[0] & 1])
        return position, free if free > moment else moment, held | keys, late

    def attack(
        self,
        readings: Iterable[Reading],
        ways: tuple[Way, ...],
        moment: int,
        first_pedal: int,
        besides: Changes = (),
        handed_over: int | None = None,
    ) -> Readings:
        """The readings after an attack at `moment` (microseconds); empty where none is left.

        Args:
            besides: changes that this foot makes for the other one.
            handed_over: the index of a letter whose change the other foot makes.
        """
        found: dict[Reading, None] = {}
        placed: dict[Changes, bool] = {}
        lead, can_place = self.lead, self.can_place
        moved = False
        for letters, owed in readings:
            for way in ways:
                if not way and not besides:
                    found[letters, owed] = None
                    continue
                now = list(letters)
                fresh = list(besides)
                for index, position, keys in way:
                    letter = letters[index]
                    stands = letter[0]
                    if stands == position:
                        now[index] = self._plucked(letter, position, keys, moment)
                        continue
                    if stands != UNSET and index != handed_over:
                        moved = True
                        free = self.free_for(letter, keys, moment) if letter[2] or letter[3] else letter[1]
                        latest = moment - lead[abs(position - stands)]
                        if free > latest:
                            break
                        fresh.append((latest, free, first_pedal + index if self.tags else 0))
                    now[index] = (position, moment, keys, ())
                else:
                    if fresh:
                        changes = tuple(sorted([*owed, *fresh]))
                        possible = placed.get(changes)
                        if possible is None:
                            possible = placed[changes] = can_place(changes)
                        if not possible:
                            continue
                        found[tuple(now), changes] = None
                    else:
                        found[tuple(now), owed] = None
        if moved:
            self.moved = True
        return tuple(found)

    def change_of(self, letter: Letter, need: Need, moment: int, pedal: int) -> Change | None:
        """The change that an attack needs of a letter; None if it is there already or was never set."""
        _, position, keys = need
        if letter[0] in (UNSET, position):
            return None
        return (
            moment - self.lead[abs(position - letter[0])],
            self.free_for(letter, keys, moment),
            pedal if self.tags else 0,
        )

    def relaxed(self, readings: Iterable[Reading], moment: int) -> Readings:
        """The readings as if the foot had had time for all that was before an attack at `moment`: nothing is owed, and
        letters that were free early enough to be changed for it are unset.
        """
        ready = moment - self.latest_lead
        found: dict[Reading, None] = {}
        for letters, _ in readings:
            found[tuple([FRESH if self.free_since(one) <= ready else one for one in letters]), ()] = None
        return tuple(found)

    def force(self, readings: Iterable[Reading], ways: tuple[Way, ...], moment: int) -> Readings:
        """The readings after an attack that this foot cannot play (see the head of this file)."""
        found: dict[Reading, None] = {}
        for letters, _ in FootRules.relaxed(self, readings, moment):
            for way in ways:
                now = list(letters)
                for index, position, keys in way:
                    now[index] = self._plucked(now[index], position, keys, moment)
                found[tuple(now), ()] = None
        return tuple(found)

    def release(self, readings: Readings, released: dict[int, int]) -> Readings:
        """The readings after keys were released: key number to the moment since when its string is free."""
        mask = 0
        for key in released:
            mask |= 1 << key
        for letters, _ in readings:
            for letter in letters:
                if letter[2] & mask:
                    break
            else:
                continue
            break
        else:
            return readings
        turned: dict[Letter, Letter] = {}
        found: dict[Reading, None] = {}
        for letters, owed in readings:
            now = list(letters)
            for index, letter in enumerate(letters):
                if letter[2] & mask:
                    freed = turned.get(letter)
                    if freed is None:
                        freed = turned[letter] = self._let_go(letter, released)
                    now[index] = freed
            found[tuple(now), owed] = None
        return tuple(found)

    def _let_go(self, letter: Letter, released: dict[int, int]) -> Letter:
        position, free, keys, late = letter
        for key, moment in released.items():
            if keys >> key & 1:
                keys ^= 1 << key
                if moment > free:
                    # One released within the grip would not be free sooner if damped.
                    if self.free.damp and moment > self.struck[key] + self.free.grip:
                        late = *late, (key, self.struck[key], moment)
                    else:
                        free = moment
        return position, free, keys, tuple(sorted(late)) if len(late) > 1 else late

    def _folded(self, letter: Letter, moment: int) -> Letter:
        """The letter for attacks at `moment` and later: strings that have died away are free, though their keys are
        down, and late ones that damping does not concern any more are among the others.
        """
        position, free, keys, late = letter
        held, struck, longest = keys, self.struck, self.free.longest
        before = moment - self.free.damp
        while held:
            bit = held & -held
            held ^= bit
            key = bit.bit_length() - 1
            end = struck[key] + longest[key]
            if end <= before:
                keys ^= bit
                if end > free:
                    free = end
        for _, _, end in late:
            if free < end <= before:
                free = end
        if late:
            late = tuple([one for one in late if one[2] > free])
        return position, free, keys, late

    def _damped(self, letter: Letter, moment: int) -> int:
        """The earliest time at which the letter can be free for an attack at `moment` or later, whatever it plucks."""
        _, free, keys, late = letter
        damped = self.free.damped
        for _, since, end in late:
            end = damped(end, since, moment)
            if end > free:
                free = end
        struck, longest = self.struck, self.free.longest
        while keys:
            bit = keys & -keys
            keys ^= bit
            key = bit.bit_length() - 1
            end = damped(struck[key] + longest[key], struck[key], moment)
            if end > free:
                free = end
        return free

    def settle(self, readings: Readings, moment: int, first_pedal: int, prune: bool) -> Readings:
        """The readings as they stand before an attack at `moment`: quiet feet forget; with `prune`,
        superfluous readings go.

        A foot that owes nothing has nothing to forget that could matter yet, so it is only looked at when
        pruning.
        """
        for _, owed in readings:
            if owed:
                break
        else:
            if not prune:
                return readings
        if len(readings) == 1:
            settled = self.cut(readings[0], moment, first_pedal)
            return readings if settled is readings[0] else (settled,)
        found: dict[Reading, None] = {}
        for reading in readings:
            found[self.cut(reading, moment, first_pedal)] = None
        if prune and 1 < len(found) <= MOST_COMPARED:
            return self.prune(tuple(found), moment, first_pedal)
        return tuple(found)

    def cut(self, reading: Reading, moment: int, first_pedal: int) -> Reading:
        """The reading without what a quiet foot may forget (see the head of this file)."""
        letters, owed = reading
        folded = letters
        frees = []
        for index, letter in enumerate(letters):
            free = soonest = letter[1]
            if letter[2] or letter[3]:
                new = self._folded(letter, moment)
                if new != letter:
                    letter = new
                    folded = (*folded[:index], new, *folded[index + 1 :])
                free, soonest = self.free_since(letter), self._damped(letter, moment)
            frees.append((free, soonest))
        limit = quiet_until(
            moment, frees, owed, self.cycle, self.margin, self.pedals[first_pedal], self.can_place
        )
        if limit is None:
            return reading if folded is letters else (folded, owed)
        return (
            tuple(
                [
                    FRESH if LONG_AGO < free < limit else letter
                    for letter, (free, _) in zip(folded, frees, strict=True)
                ]
            ),
            tuple([change for change in owed if change[1] >= limit]),
        )

    def covers(self, good: Reading, other: Reading, moment: int, first_pedal: int) -> bool:
        """Whether `good` can play everything that `other` can, from the attack at `moment` on (see the head of this
        file).
        """
        if good is other:
            return True
        if len(good[1]) > len(other[1]):
            return False
        added = self._instead(good[0], other[0], moment, first_pedal)
        return added is not None and _contained(good[1] + added, other[1]) and self.allows(good, other)

    @staticmethod
    def allows(good: Reading, other: Reading) -> bool:
        """Whether `good` covers `other` as far as letters and changes go; the rest is checked elsewhere."""
        return True

    def _instead(
        self, mine: tuple[Letter, ...], theirs: tuple[Letter, ...], moment: int, first_pedal: int
    ) -> Changes | None:
        """The changes that a foot with the first letters must add to do, from the attack at `moment` on, whatever one
        with the others can; None where it cannot.
        """
        added: Changes = ()
        if mine is theirs:
            return added
        index = -1
        for letter, other in zip(mine, theirs):  # noqa: B905, as many, and asked very often
            index += 1
            if letter is other:
                continue
            position, free, keys, late = letter
            if position == UNSET:
                continue
            if position == other[0]:
                # The time when keys that are down die away does not count: they may be released before.
                if free > other[1] or keys & ~other[2]:
                    return None
                if late and not _no_later(late, other):
                    return None
                continue
            ready = moment - self.latest_lead
            if (keys or late) and free <= ready:
                free = self.free_since(letter)
            if free > ready:
                return None
            added = *added, (ready, free, first_pedal + index if self.tags else 0)
        return added

    def prune(self, readings: Readings, moment: int, first_pedal: int) -> Readings:
        """The readings without those that another one covers."""
        allows = self.allows
        # By their letters, since many readings have the same, and those need to be compared but once.
        kept: dict[tuple[Letter, ...], list[Reading]] = {}
        instead: dict[tuple[Letter, ...], dict[tuple[Letter, ...], Changes | None]] = {}
        # Fewest debts first: a reading that owes less can cover one that owes more, not the other way round.
        order = sorted(readings, key=lambda r: len(r[1]))
        for reading in order:
            letters, owed = reading[:2]
            known = instead.setdefault(letters, {})
            for others in kept:
                if others not in known:
                    known[others] = self._instead(others, letters, moment, first_pedal)
            if any(
                _contained(good[1] + added if added else good[1], owed) and allows(good, reading)
                for others, some in kept.items()
                if (added := known[others]) is not None
                for good in some
            ):
                continue
            for others, some in kept.items():
                known = instead.setdefault(others, {})
                if letters not in known:
                    known[letters] = self._instead(letters, others, moment, first_pedal)
                added = known[letters]
                if added is not None:
                    mine = owed + added
                    some[:] = [
                        good
                        for good in some
                        if len(good[1]) < len(mine)
                        or not (_contained(mine, good[1]) and allows(reading, good))
                    ]
            kept.setdefault(letters, []).append(reading)
        left = {id(reading) for some in kept.values() for reading in some}
        return tuple([reading for reading in order if id(reading) in left])


def _no_later(late: Late, other: Letter) -> bool:
    """Whether each of these late strings is free no later than the other letter's are, plucked again or not."""
    _, free, _, others = other
    return all(
        end <= free or any(k == key and s >= since and e >= end for k, s, e in others)
        for key, since, end in late
    )


def _contained(wanted: Changes, owed: Changes) -> bool:
    """Whether each of these changes can be paired with an owed one whose window lies within its own."""
    if len(wanted) > len(owed):
        return False
    if not wanted or wanted == owed:
        return True
    left = sorted(owed, reverse=True)
    for latest, earliest, pedal in sorted(wanted, reverse=True):
        for partner in left:
            if partner[0] <= latest and partner[1] >= earliest and partner[2] == pedal:
                left.remove(partner)
                break
        else:
            return False
    return True
