"""The hands: can one player's two hands strike what comes, in time? A rolling search, as for the feet.

Fingers are *placed* on strings before they pluck (theharplegacyproject.com, typical). Placing takes time,
plucking does not: up to four notes of one hand that go in one direction and lie within its reach are one
placing, and go off at any speed. That is why rolled chords, grace notes and arpeggio groups are no fast runs
(follows from the placing rule; common practice). The next placing is what must be in time:

    from a hand's last pluck to the first of its next placing:
    place + place_finger * (notes of that first attack - 1) + leap * (strings beyond the reach)

where the strings beyond the reach are those by which the strings of both placings together exceed what the
hand reaches: a hand that stays about where it was only moves its fingers, one that goes far has to travel
(leaps without room to place are hard: theharplegacyproject.com; the figures have no source). Nothing is
looked up in the future: the placing grows with each note that continues it.

At each attack a hand that has notes (grips.py: the left hand has the lower ones) does one of these:
- a new placing, where it is in time. Where the left hand has notes too, the chord may be broken upwards
  (Rimsky-Korsakov, ch. I: chords always are), so the right hand may be late by `roll` for each of them;
- a slide, where the note goes on with a glissando of the same hand (glissando.py): at any speed;
- its placing goes on: the notes lie all above it or all below it, in the direction that it has so far, and
  the whole is a grip with a finger for each note. (A note may be the last one's, on a second string;
  repeats.py sees to that.) Broken, a grip may be somewhat wider (`rolled_reach`; siba: arpeggiated chords may
  exceed the span);
- its placing goes back: to strings in between, or to its own again with other fingers, as in mordents and
  broken figures; not at any speed, but `turn` after the last pluck, and only while all of it lies within
  `turn_reach` (common practice; the figures have no source).

A rolled chord (grips.py) takes a hand two placings, the first one so much before the attack as the second one
needs.

What is known of a hand is (its last pluck, the pitches of its placing, the direction of that, its last note
if that came alone). A new placing in time makes the other three superfluous, a slide the last two, going on
going back: the last pluck is the same, the pitches are part of the other's, and the hand is no more bound to
a direction. So a hand has at most two ways to go on, one of them late.

One hand's state makes another superfluous (`covers`) in two cases. First, when it is plucked no later, holds
part of the other's pitches, is bound to no other direction and has the same last note: whatever goes on with
the other placing goes on with this one. Second, when it is over so much earlier that whatever the other could
do it can do as a new placing: that is earlier by `leap` for each string by which it sticks out of the
other's, and long enough ago for as many fingers as the other's placing has left. A hand that could be
anywhere by now is FREE.

Where a hand is, is remembered by pitch and measured on the strings of grips.places, so these states do not
depend on the pedals. Only the attack itself is held against the strings that it is played on.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

from livepedal.harp import Instrument, Player
from livepedal.model.chords import Sharing
from livepedal.model.grips import Block, Division, GripClass, Grips
from livepedal.model.readings import LONG_AGO

# (last pluck, pitches of the placing upwards, one for each pluck, direction, last note or -1 if it was a
# chord)
Hand = tuple[int, tuple[int, ...], int, int]
Hands = tuple[Hand, Hand]
# Left and right hand, each on its own: one history.
Readings = tuple[Hands, ...]
# A note of the attack that goes on with a glissando, and the note before it.
Links = tuple[tuple[int, int], ...]
# What a hand that stands somewhere can do for its placings of an attack, so much late (µs).
Played = dict[tuple[Hand, tuple[Block, ...], int], tuple[Hand, ...]]

# The direction of a placing: not yet known, upwards, downwards, or to and fro.
OPEN, UP, DOWN, BACK = 0, 1, -1, 2

FREE: Hand = (LONG_AGO, (), OPEN, -1)
REST: Readings = ((FREE, FREE),)

# How far apart, in strings, the notes of a glissando can lie at the most: flat to sharp over the string that
# doubles one of them.
LONGEST_STEP = 3
# A safety net, never reached on any music tried; it can only ever turn a playable attack into an unplayable
# one.
MOST_STATES = 2_000


class HandTrouble(StrEnum):
    """What the hands cannot do. The words are those of findings."""

    TOO_MANY = "too-many-notes"  # more notes at once than fingers, and no time to roll them
    TOO_WIDE = "too-wide"  # no division of the chord that both hands reach, and no time to roll it
    TOO_FAR = "too-far"  # a hand is too far away from where it has to be
    TOO_FAST = "too-fast"  # a hand cannot be placed again so soon


@dataclass(frozen=True, slots=True)
class HandsFault:
    """Why an attack cannot be played: the way that comes nearest to it.

    `left`: whether it is the left hand that fails. `pitches`: what it has to strike. `needed`, `available`:
    µs. `strings`: how many strings beyond its reach it would have to go.
    """

    kind: HandTrouble
    left: bool
    pitches: Block
    needed: int
    available: int
    strings: int


class HandRules:
    """One player's figures, and what follows from them for one hand."""

    __slots__ = (
        "anywhere", "finger", "fingers", "late", "leap", "near", "place", "places", "reach", "slack",
        "spreads", "turn",
    )  # fmt: skip

    def __init__(self, player: Player, grips: Grips) -> None:
        self.place = player.place
        self.finger = player.place_finger
        self.leap = player.leap
        self.turn = player.turn
        self.late = player.roll
        self.fingers = player.fingers
        self.reach = grips.reach
        self.near = player.turn_reach - 1
        self.places = grips.places
        self.spreads = grips.spreads
        span = max(grips.places) - min(grips.places)
        # By how many strings a placing that goes on, or slides, can exceed the reach.
        self.slack = max(LONGEST_STEP, player.rolled_reach - player.reach)
        # After so long a hand can be anywhere, with all its fingers, and has even placed them twice, for a
        # rolled chord.
        self.anywhere = 2 * (self.place + self.finger * (self.fingers - 1) + self.leap * (span + self.slack))

    def beyond(self, one: Block, other: Block) -> int:
        """By how many strings two placings (pitches upwards) together exceed what the hand reaches."""
        if not one:
            return 0
        places = self.places
        low, high = places[one[0]], places[one[-1]]
        if places[other[0]] < low:
            low = places[other[0]]
        if places[other[-1]] > high:
            high = places[other[-1]]
        excess = high - low - self.reach
        return excess if excess > 0 else 0

    def needed(self, one: Block, other: Block) -> int:
        """From the last pluck of the placing `one` to the first of `other` (µs)."""
        return self.place + self.finger * (len(other) - 1) + self.leap * self.beyond(one, other)

    def play(self, hand: Hand, block: Block, moment: int, late: int, links: Links) -> tuple[Hand, ...]:
        """The hand after it struck these notes at `moment` (µs), or up to `late` after it: at most two ways,
        () where there is none.
        """
        end, held, direction, last = hand
        alone = block[0] if len(block) == 1 else -1
        ready = end + self.needed(held, block)
        if ready <= moment:
            return ((moment, block, OPEN, alone),)
        found: tuple[Hand, ...] = ()
        if ready <= moment + late:
            found = ((ready, block, OPEN, alone),)
        if moment < end:
            return found
        if alone >= 0 and last >= 0 and (alone, last) in links:
            towards = UP if alone > last else DOWN
            if direction in (OPEN, towards):
                return (*found, (moment, block, towards, alone))
        if len(held) + len(block) > self.fingers:
            return found
        if direction == OPEN and held[0] == held[-1] == alone:
            whole, towards = (*held, alone), OPEN
        elif block[0] >= held[-1] and direction in (OPEN, UP):
            whole, towards = held + block, UP
        elif block[-1] <= held[0] and direction in (OPEN, DOWN):
            whole, towards = block + held, DOWN
        elif moment - end >= self.turn:
            whole, towards = tuple(sorted(held + block)), BACK
            if self.places[whole[-1]] - self.places[whole[0]] > self.near:
                return found
        else:
            return found
        if not self.spreads({self.places[pitch] for pitch in whole}):
            return found
        return (*found, (moment, whole, towards, alone))

    def roll(self, hand: Hand, placings: tuple[Block, ...], moment: int) -> Hand | None:
        """The hand after two placings of a rolled chord, the second at `moment`; None where there is no time."""
        first, second = placings
        if moment - hand[0] < self.needed(hand[1], first) + self.needed(first, second):
            return None
        return moment, second, OPEN, second[0] if len(second) == 1 else -1

    def covers(self, good: Hand, other: Hand, moment: int) -> bool:
        """Whether `good` can do whatever `other` can, at every attack from `moment` on (see the head of this
        file).
        """
        if good == other:
            return True
        end, held, direction, last = good
        if end > other[0]:
            return False
        theirs = other[1]
        if (
            last == other[3]
            and (direction in (OPEN, other[2]) or other[2] == BACK)
            and len(held) <= len(theirs)
            and set(held) <= set(theirs)
        ):
            return True
        out = 0
        if held:
            if not theirs:
                return False
            places = self.places
            below = places[theirs[0]] - places[held[0]]
            above = places[held[-1]] - places[theirs[-1]]
            out = (below if below > 0 else 0) + (above if above > 0 else 0)
        left = self.fingers - len(theirs)
        ready = self.place + self.finger * ((left if left > 1 else 1) - 1) + self.leap * (out + self.slack)
        return end + self.leap * out <= other[0] and moment - end >= ready


class HandsTracker:
    """All histories of one player's hands.

    `before` are those before the open attack, `after` those after it, `failed` whether none was left,
    `rolled` whether each of those left rolls the chord.
    """

    __slots__ = ("after", "before", "bounded", "failed", "grips", "rolled", "rules")

    def __init__(self, player: Player, instrument: Instrument) -> None:
        self.grips = Grips(player, instrument)
        self.rules = HandRules(player, self.grips)
        self.bounded = 0
        self.start()

    def start(self) -> None:
        """Both hands free."""
        self.before = REST
        self.after = REST
        self.failed = False
        self.rolled = False

    def fork(self) -> HandsTracker:
        """A copy that goes its own way."""
        copy = object.__new__(HandsTracker)
        for name in HandsTracker.__slots__:
            setattr(copy, name, getattr(self, name))
        return copy

    def open(self, moment: int) -> None:
        """A new attack begins at `moment` (µs): what was after the last one is now before this one."""
        self.before = self.settle(self.after, moment)

    def judge(
        self, pitches: tuple[int, ...], ways: tuple[Sharing, ...], moment: int, links: Links = ()
    ) -> bool:
        """Whether the hands can play the attack from `before`, on whatever strings; sets `after`, `failed`
        and `rolled`.

        pitches: upwards, each once. ways: how they can be put on strings (chords.py), () where no setting
        holds them.
        """
        classes = self.grips.classes(pitches, ways)
        found: Readings = ()
        self.rolled = False
        for rolled in (False, True):
            some = [one for one in classes if one.rolled is rolled]
            if some:
                after = [x for one in some for x in self.attempt(self.before, one, moment, links)]
                if after and not found:
                    self.rolled = rolled
                found += tuple(after)
        self.failed = not found
        self.after = tuple(dict.fromkeys(found)) or self.go_on(self.before, classes, moment)
        return not self.failed

    def attempt(
        self, before: Readings, chord: GripClass, moment: int, links: Links = (), played: Played | None = None
    ) -> Readings:
        """The histories after an attack at `moment` from `before`; () where it cannot be played. played: what is known
        of this attack, where it is asked about more than once.
        """
        known: Played = {} if played is None else played
        found: dict[Hands, None] = {}
        each = self.rules.late

        def after(hand: Hand, placings: tuple[Block, ...], late: int) -> tuple[Hand, ...]:
            if not placings:
                return (hand,)
            key = hand, placings, late
            ways = known.get(key)
            if ways is None:
                ways = known[key] = self._play(hand, placings, moment, late, links)
            return ways

        for left, right in before:
            for division in chord.divisions:
                new_lefts = after(left, division.left, 0)
                if not new_lefts:
                    continue
                late = 0
                for block in division.left:
                    late += each * len(block)
                for new_right in after(right, division.right, late):
                    for new_left in new_lefts:
                        found[new_left, new_right] = None
        return tuple(found)

    def _play(
        self, hand: Hand, placings: tuple[Block, ...], moment: int, late: int, links: Links
    ) -> tuple[Hand, ...]:
        if len(placings) == 1:
            return self.rules.play(hand, placings[0], moment, late, links)
        rolled = self.rules.roll(hand, placings, moment)
        return (rolled,) if rolled else ()

    def settle(self, readings: Readings, moment: int) -> Readings:
        """The histories as they stand before an attack at `moment`: free hands forget, superfluous histories
        go.
        """
        then = moment - self.rules.anywhere
        found = {
            (left if left[0] > then else FREE, right if right[0] > then else FREE): None
            for left, right in readings
        }
        if len(found) == 1:
            return tuple(found)
        covers = self.rules.covers
        kept: list[Hands] = []
        # Those over earliest first. One that is over later in all cannot cover one that is over earlier.
        for one in sorted(found, key=_over):
            left, right = one
            for good_left, good_right in kept:
                if covers(good_left, left, moment) and covers(good_right, right, moment):
                    break
            else:
                over = _over(one)
                kept = [
                    other
                    for other in kept
                    if _over(other) != over
                    or not (covers(left, other[0], moment) and covers(right, other[1], moment))
                ]
                kept.append(one)
        if len(kept) > MOST_STATES:
            self.bounded += 1
            del kept[MOST_STATES:]
        return tuple(kept)

    def allow(self, better: Readings, worse: Readings, moment: int) -> bool:
        """Whether this player's hands can do from `better` whatever they can from `worse`, at every attack from
        `moment` on.
        """
        covers = self.rules.covers
        return all(
            any(covers(good[0], one[0], moment) and covers(good[1], one[1], moment) for good in better)
            for one in worse
        )

    def go_on(self, before: Readings, classes: tuple[GripClass, ...], moment: int) -> Readings:
        """The histories after an attack that cannot be played: the hands are where it needs them, whatever
        that took.
        """
        found: dict[Hands, None] = {}
        for chord in classes:
            for division in chord.divisions or (Division((), ()),):
                for left, right in before:
                    found[_put(left, division.left, moment), _put(right, division.right, moment)] = None
        return tuple(found)

    def fault(
        self, before: Readings, classes: tuple[GripClass, ...], pitches: Block, moment: int
    ) -> HandsFault:
        """Why an attack (pitches upwards, and their classes) that cannot be played from `before` cannot."""
        rules = self.rules
        best: HandsFault | None = None
        for chord in classes:
            for division in chord.divisions:
                late = rules.late * sum(len(block) for block in division.left)
                for left, right in before:
                    worst: HandsFault | None = None
                    for is_left, hand, placings, grace in (
                        (True, left, division.left, 0),
                        (False, right, division.right, late),
                    ):
                        if not placings or self._play(hand, placings, moment, grace, ()):
                            continue
                        needed = rules.needed(hand[1], placings[0])
                        if len(placings) == 2:
                            needed += rules.needed(*placings)
                        strings = rules.beyond(hand[1], placings[0])
                        notes = tuple(pitch for block in placings for pitch in block)
                        there = moment - hand[0] + (grace if len(placings) == 1 else 0)
                        far = needed - rules.leap * strings <= there
                        kind = HandTrouble.TOO_FAR if far else HandTrouble.TOO_FAST
                        one = HandsFault(kind, is_left, notes, needed, there, strings)
                        if worst is None or _short(one) > _short(worst):
                            worst = one
                    if worst is not None and (best is None or _short(worst) < _short(best)):
                        best = worst
        crowd = HandTrouble.TOO_MANY if len(pitches) > 2 * rules.fingers else HandTrouble.TOO_WIDE
        if best is None:
            return HandsFault(crowd, True, pitches, 0, 0, 0)  # not even in two placings a hand
        if all(chord.rolled for chord in classes):
            # Too many are all of them, too wide is what the one hand should take.
            return replace(
                best, kind=crowd, pitches=pitches if crowd is HandTrouble.TOO_MANY else best.pitches
            )
        return best


def _put(hand: Hand, placings: tuple[Block, ...], moment: int) -> Hand:
    if not placings:
        return hand
    block = placings[-1]
    return moment, block, OPEN, block[0] if len(block) == 1 else -1


def _over(hands: Hands) -> int:
    return hands[0][0] + hands[1][0]


def _short(fault: HandsFault) -> int:
    return fault.needed - fault.available
