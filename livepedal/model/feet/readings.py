"""The readings of one foot: every history of spellings and pedal changes that still matters.

The idea of the search, for one foot of one player:

1. A *reading* is (letters, changes): how each pedal of the foot stands and since when its strings are free
   (letters.py), and the pedal changes that the foot owes, each as a window of starts (schedule.py).
2. An attack turns each reading into one for every way to put its notes on strings (chords.py).
3. A letter that stands elsewhere owes a change then. It starts when the letter is free at the soonest, and the flick
   (1.3 flicks for two notches) and `settle` before the attack at the latest.
4. A letter that was not used yet is UNSET and owes nothing: it could have been set before the start.
5. The new reading lives on where all that it owes can be placed together. Where no reading is left, the foot cannot
   play the attack.

Three rules keep the readings few. Each is exact: it never turns a playable future into an unplayable one or back.

*Equal* readings are one. After an attack on a letter its earlier history no longer matters: its strings are free no
earlier than the attack, and that is all that is kept while its key is down.

*A quiet foot forgets* (`forget`, forgetting.py). Let H be a moment, not after the attack about to be judged, such that
- all of these can be placed with the last cycle over by H, and in time for the attack (settling and two notches
  included): every owed change with an earliest start before H, and one change of every letter that is free before H,
  damped or not;
- no other letter can be free before H, whatever an attack plucks again;
- where a foot may reach across, H is not after the attack before: a change that it makes for the other foot starts at
  that attack or later (tracker.py).
Then those letters become UNSET and those changes are forgotten. Proof: any later change starts at H or after, whatever
letter it is of: letters free before H are UNSET and owe no change until they are used again, at the attack or later;
the others are not free before H, even damped. So no later change lies within a cycle of a forgotten one, and whatever
position a forgotten letter needs at its next use, the one change of it was placed in time. The other way round, a
schedule of the original is one of the forgetful reading, which owes less. Several H are tried, the latest first; each
is right, and a later one forgets more.

*One reading covers another* (`changes_to_cover`, covering.py): it can play whatever the other can. Let a and b be
readings of one foot. a covers b if each letter of a is one of these:
- UNSET;
- in the same position as in b, where each of its strings is free no later than a string of b that is not plucked
  again, or is held or late exactly as the same string is in b;
- elsewhere, but free early enough, without damping, to be changed before the next attack can need it; that change is
  added to what a owes;
and if what a owes then maps one to one into what b owes, each window of a containing its partner's, and the pedal the
same where changes name one (`two_at_once`: which two go together depends on it). For then a puts its changes where b
puts the partners, and every later change of b's is a's too, or a needs none. A letter that stood elsewhere needs one
change at its next use whatever that is, for which it has the slot of the added one.

*A foot that failed goes on* (`force`, `owing_nothing`): it owes nothing, and its letters that were free early enough,
without damping, to be changed before the attack become UNSET, as if it had had time for all that was before. The
attack's letters stand as it needs them; keys that are down go on holding strings that the attack does not pluck again,
and loud ones stay loud. So where a covered b before, it still does: a letter of a that was UNSET, or free early enough,
is UNSET now, and neither owes anything. (Unless such letters became UNSET, a could have covered b by the slot of a
change that b owed, and be worse than b once b's debts are dropped.)
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from livepedal.harp import Foot, Player
from livepedal.model.feet.chords import Need, Way
from livepedal.model.feet.covering import Letters, Reading, Readings, without_covered
from livepedal.model.feet.forgetting import quiet_until
from livepedal.model.feet.free import LONG_AGO, FreeRule, no_later
from livepedal.model.feet.letters import FRESH, UNSET, Letter, LetterRules, after_pluck
from livepedal.model.feet.schedule import Change, Changes, places_for

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


class FootRules(LetterRules):
    """One player's figures, and what follows from them for a foot.

    Attributes:
        cycle: the least time between the starts of two changes (µs).
        lead: how long before its attack a change of 0, 1 or 2 notches must begin (µs).
        two_at_once: whether one foot may move two neighbouring pedals at once.
    """

    def __init__(self, player: Player, free: FreeRule, struck: list[int]) -> None:
        super().__init__(free, struck)
        self.cycle = player.cycle
        self.lead = player.leads
        self.latest_lead = max(self.lead)
        self.margin = max(self.cycle, self.latest_lead)
        self.two_at_once = player.two_at_once
        self.can_place = _remembered(places_for(player.cycle, player.two_at_once))
        # For the first pedal of each foot, what follows the window in a change of each of its pedals.
        self.cycle_and_pedal = {
            int(foot.pedals[0]): tuple([self.change(0, 0, pedal)[2:] for pedal in foot.pedals])
            for foot in Foot
        }

    def change(self, latest: int, earliest: int, pedal: int) -> Change:
        """A change of a pedal that starts between these moments (µs)."""
        return (
            (latest, earliest, self.cycle, int(pedal)) if self.two_at_once else (latest, earliest, self.cycle)
        )

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
            readings: before the attack.
            ways: of this foot to play it.
            moment: of the attack.
            first_pedal: the first pedal of this foot.
            besides: changes that this foot makes for the other one.
            handed_over: the index of a letter whose change the other foot makes.
        """
        if ways == ((),) and not besides:
            return tuple(readings)
        found: dict[Reading, None] = {}
        lead, can_place, more = self.lead, self.can_place, self.cycle_and_pedal[first_pedal]
        for letters, owed in readings:
            for way in ways:
                now = list(letters)
                fresh = list(besides)
                for index, position, keys in way:
                    letter = letters[index]
                    stands = letter[0]
                    if stands == position:
                        now[index] = after_pluck(letter, position, keys, moment)
                        continue
                    if stands != UNSET and index != handed_over:
                        free = self.free_for(letter, keys, moment) if letter[2] or letter[3] else letter[1]
                        latest = moment - lead[abs(position - stands)]
                        if free > latest:
                            break
                        fresh.append((latest, free, *more[index]))
                    now[index] = (position, moment, keys, ())
                else:
                    changes = tuple(sorted([*owed, *fresh])) if fresh else owed
                    if not fresh or can_place(changes):
                        found[tuple(now), changes] = None
        return tuple(found)

    def change_of(self, letter: Letter, need: Need, moment: int, pedal: int) -> Change | None:
        """The change that an attack needs of a letter; None if it is there already or was never set."""
        _, position, keys = need
        if letter[0] in (UNSET, position):
            return None
        latest = moment - self.lead[abs(position - letter[0])]
        return self.change(latest, self.free_for(letter, keys, moment), pedal)

    def owing_nothing(self, readings: Iterable[Reading], moment: int) -> Readings:
        """The readings as if the foot had had time for all that was before an attack at `moment`.

        Nothing is owed, and letters that were free early enough to be changed for it are unset.
        """
        ready = moment - self.latest_lead
        found: dict[Reading, None] = {}
        for letters, _ in readings:
            found[tuple([FRESH if self.free_since(one) <= ready else one for one in letters]), ()] = None
        return tuple(found)

    def force(self, readings: Iterable[Reading], ways: tuple[Way, ...], moment: int) -> Readings:
        """The readings after an attack that this foot cannot play (see the head of this file)."""
        found: dict[Reading, None] = {}
        for letters, _ in self.owing_nothing(readings, moment):
            for way in ways:
                now = list(letters)
                for index, position, keys in way:
                    now[index] = after_pluck(now[index], position, keys, moment)
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
        found: dict[Reading, None] = {}
        for letters, owed in readings:
            now = [self.let_go(letter, released) if letter[2] & mask else letter for letter in letters]
            found[tuple(now), owed] = None
        return tuple(found)

    def forget_and_prune(self, readings: Readings, moment: int, first_pedal: int, prune: bool) -> Readings:
        """The readings as they stand before an attack at `moment`.

        Quiet feet forget; with `prune`, readings that another one covers go. A foot that owes nothing has
        nothing to forget that could matter yet, so it is only looked at when pruning.
        """
        for _, owed in readings:
            if owed:
                break
        else:
            if not prune:
                return readings
        if len(readings) == 1:
            kept = self.forget(readings[0], moment, first_pedal)
            return readings if kept is readings[0] else (kept,)
        found = dict.fromkeys([self.forget(reading, moment, first_pedal) for reading in readings])
        if prune and 1 < len(found) <= MOST_COMPARED:
            return without_covered(
                found, lambda good, other: self.changes_to_cover(good, other, moment, first_pedal)
            )
        return tuple(found)

    def forget(self, reading: Reading, moment: int, first_pedal: int) -> Reading:
        """The reading without what a quiet foot may forget (see the head of this file)."""
        letters, owed = reading
        over = moment - self.cycle
        for letter in letters:
            if LONG_AGO < letter[1] <= over:
                break
        else:
            for change in owed:
                if change[1] <= over:
                    break
            else:
                return reading  # nothing began so early that it could be over
        folded, frees = [], []
        for letter in letters:
            free = soonest = letter[1]
            if letter[2] or letter[3]:
                letter, free, soonest = self.between(letter, moment)
            folded.append(letter)
            frees.append((free, soonest))
        more = self.cycle_and_pedal[first_pedal]
        limit = quiet_until(moment, frees, owed, self.cycle, self.margin, more, self.can_place)
        if limit is not None:
            owed = tuple([change for change in owed if change[1] >= limit])
            for index, (free, _) in enumerate(frees):
                if LONG_AGO < free < limit:
                    folded[index] = FRESH
        now = tuple(folded)
        return reading if now == letters and owed is reading[1] else (now, owed)

    def changes_to_cover(
        self, mine: Letters, theirs: Letters, moment: int, first_pedal: int
    ) -> Changes | None:
        """The changes that a foot must owe besides, to cover another reading; None where it cannot cover it.

        To cover it means to do whatever it can, from the attack at `moment` on.

        Args:
            mine: the letters of the reading that is to cover.
            theirs: the letters of the other.
            moment: of the attack (µs).
            first_pedal: the first pedal of this foot.
        """
        added: Changes = ()
        if mine is theirs:
            return added
        for index, (letter, other) in enumerate(zip(mine, theirs)):  # noqa: B905, as many, and asked very often
            if letter is other or letter[0] == UNSET:
                continue
            position, since, keys, late = letter
            if position == other[0]:
                # The time when keys that are down die away does not count: they may be released before.
                if (
                    since > other[1]
                    or keys & ~other[2]
                    or (late and not no_later(since, late, other[1], other[3]))
                ):
                    return None
                continue
            ready = moment - self.latest_lead
            if (keys or late) and since <= ready:
                since = self.free_since(letter)
            if since > ready:
                return None
            added = *added, (ready, since, *self.cycle_and_pedal[first_pedal][index])
        return added
