"""What hands can do, stated a second time and looked at exhaustively: the judge for livepedal/model/hands.

It shares no code with the package and works the other way round: it lists every way to share every chord of a short
passage out between two hands, and asks of each whole way how hard its hardest attack is. (The package keeps a few ways
while it goes.) Figures (glissandi, tremolos, trills, arpeggios) are left out; passages that hold none are to be judged.

The rules, in words. A hand has some fingers, reaches some strings, and the fingers without the thumb somewhat fewer. A
pitch lies on one string or on one of two neighbours; distances are taken as short as they can be. A hand takes its part of
a chord in one placing if it fits, else in two if it can be cut in two that fit. It needs time for each placing, for each
further finger that was not on its string in the attack before, and for each string by which this attack and the one before
it exceed the reach. It has the time since the last of its attacks after which enough fingers were free: fingers that are to
hold this attack's notes and all notes of attacks after that one, within the reach of a broken chord. Where it goes beyond
its reach it has the time since the attack before.

Both together: nine attacks running have eight times some time, twice it for a chord, more where a single line turns back. One string:
two plucks, and five plucks, are so far apart at the least; where a setting has the pitch on two strings together with all
that was struck meanwhile, these are three and nine plucks.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from itertools import product

NATURAL = {0: 0, 1: 2, 2: 4, 3: 5, 4: 7, 5: 9, 6: 11}  # C D E F G A B
FIXED = (7, 8, 53)  # C1, D1, G7
LOWEST, HIGHEST = 7, 53
FREE = 0.0
HOPELESS = 1e6


@dataclass(frozen=True)
class Hand:
    """Figures of one player (µs, strings, fingers)."""

    reach: int
    inner_reach: int
    rolled_reach: int
    fingers: int
    place: int
    place_finger: int
    leap: int
    line: int
    turn: int
    restrike: int
    repeat: int


Chord = tuple[int, ...]
Music = tuple[tuple[int, Chord], ...]


@cache
def strings_of(pitch: int) -> list[int]:
    """Numbers of the strings (seven an octave, C0 is 0) that can give a pitch on a 47-string harp."""
    found = []
    for string in range(LOWEST, HIGHEST + 1):
        away = pitch - (12 * (string // 7 + 1) + NATURAL[string % 7])
        if away == 0 or (abs(away) == 1 and string not in FIXED):
            found.append(string)
    return found


def span(notes: Chord) -> int:
    """Strings from the lowest to the highest note, both counted, at the least."""
    return min(strings_of(notes[-1])) - max(strings_of(notes[0])) + 1 if len(notes) > 1 else 1


def grip(notes: Chord, hand: Hand) -> bool:
    """Whether one placing takes them."""
    if len(notes) < 2:
        return True
    if len(notes) > hand.fingers or span(notes) > hand.rolled_reach:
        return False
    return len(notes) < 3 or span(notes[:-1]) <= hand.inner_reach


@cache
def placings(notes: Chord, hand: Hand) -> int | None:
    """How many placings they take, None: more than two."""
    if grip(notes, hand):
        return 1
    cuts = range(1, len(notes))
    return 2 if any(grip(notes[:n], hand) and grip(notes[n:], hand) for n in cuts) else None


def hardest(attacks: list[tuple[int, Chord]], hand: Hand, slow: Hand) -> list[float]:
    """For each attack of one hand the time needed through the time there was. slow: the slowest player, whose reach tells
    what is a leap and which fingers are free.
    """
    costs: list[int] = []
    leaps: list[int] = []
    found: list[float] = []
    for n, (us, notes) in enumerate(attacks):
        number = placings(notes, hand)
        before = attacks[n - 1][1] if n else ()
        new = len(notes) if len(notes) == 1 or not n else max(1, sum(p not in before for p in notes))
        both = tuple(sorted({*notes, *before}))
        leap = max(0, span(both) - slow.reach) if n else 0
        leaps.append(leap)
        costs.append(hand.place + hand.place_finger * (new - 1) + hand.leap * leap)
        if number is None:
            found.append(HOPELESS)
            continue
        since = None
        held = list(notes)
        for m in range(n - 1, -1, -1):
            held += attacks[m][1]
            if leap or len(held) > slow.fingers or span(tuple(sorted(set(held)))) > slow.rolled_reach:
                since = m
                break
        if since is None:
            found.append(FREE)
            continue
        needed = sum(costs[since + 1 :]) + hand.place * (number - 1)
        found.append(needed / (us - attacks[since][0]))
    return found


def lines(music: Music, hand: Hand) -> list[float]:
    """The same of nine attacks running."""
    each: list[int] = []
    found = []
    for n, (us, notes) in enumerate(music):
        cost = hand.line * min(len(notes), 2)
        three = [chord for _, chord in music[max(n - 2, 0) : n + 1]]
        if [len(chord) for chord in three] == [1, 1, 1]:
            (a,), (b,), (c,) = three
            # From the second note back towards the first, by less than a fifth and not as far as it.
            if abs(c - b) < 7 and (a < c < b or b < c < a):
                cost += hand.turn
        each.append(cost)
        found.append(sum(each[-8:]) / (us - music[n - 8][0]) if n >= 8 else FREE)
    return found


@cache
def on_two(pitch: int, classes: frozenset[int]) -> bool:
    """Whether some setting of the seven pedals has a pitch on two strings, and every one of these pitch classes."""
    for setting in product((-1, 0, 1), repeat=7):
        sounding = [(NATURAL[letter] + position) % 12 for letter, position in enumerate(setting)]
        if sounding.count(pitch % 12) >= 2 and classes <= set(sounding):
            return True
    return False


def repeats(music: Music, hand: Hand) -> list[float]:
    """The same of each string."""
    plucked: dict[int, list[int]] = {}
    found = []
    for n, (us, notes) in enumerate(music):
        worst = FREE
        for pitch in notes:
            past = plucked.setdefault(pitch, [])
            for needed, back in ((hand.restrike, 1), (4 * hand.repeat, 4)):
                if len(past) < back:
                    continue
                there = us - past[-back]
                if there < needed:
                    since = past[-back]
                    around = frozenset(
                        p % 12 for then, chord in music[: n + 1] if then >= since for p in chord
                    )
                    if on_two(pitch, around):
                        if len(past) < 2 * back:
                            continue
                        there = us - past[-2 * back]
                worst = max(worst, needed / there)
        for pitch in notes:
            plucked[pitch].append(us)
        found.append(worst)
    return found


def easiest(music: Music, hand: Hand, slow: Hand) -> list[float]:
    """For each attack how hard the music is up to there, at the least: of all ways to share it out, the hardest attack of
    the easiest way; what no way of sharing out changes comes on top.
    """
    found = [HOPELESS] * len(music)
    for cuts in product(*(range(len(notes) + 1) for _, notes in music)):
        worst = [FREE] * len(music)
        for low in (True, False):
            mine = [
                (n, us, notes[:cut] if low else notes[cut:])
                for n, ((us, notes), cut) in enumerate(zip(music, cuts, strict=True))
            ]
            mine = [one for one in mine if one[2]]
            for (n, _, _), strain in zip(
                mine, hardest([(us, c) for _, us, c in mine], hand, slow), strict=True
            ):
                worst[n] = max(worst[n], strain)
        so_far = FREE
        for n, strain in enumerate(worst):
            so_far = max(so_far, strain)
            found[n] = min(found[n], so_far)
    return found
