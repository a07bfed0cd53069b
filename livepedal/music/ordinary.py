"""Ordinary spelling: how a musician who knows nothing of pedals would write the notes.

The algorithm is the first stage of ps13 (D. Meredith, "The ps13 Pitch Spelling Algorithm", Journal of New
Music Research 35/2, 2006, and Oxford D.Phil. thesis, 2007). Around each note lies a context of 10 notes
before and 42 from it on (his best values of Kpre and Kpost). Each pitch class of the context may be the
tonic, as strongly as it occurs; each tonic says on which letter the note is written, as in a harmonic
chromatic scale on that tonic; the letter with the most votes wins. He found 99.4 % of 195,972 notes spelled
as the composers did. The second stage, about voice leading, made it a little worse there, and is left out. His music
does not pause; here a context ends at a long rest, after which music is often in another key.

A written note is a number on the line of fifths (harp/fifths.py).
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from itertools import pairwise

from livepedal.harp import Pedal
from livepedal.harp.fifths import class_of, fifth_of
from livepedal.music.attacks import Gathered
from livepedal.music.song import KeySignature

BEFORE, AFTER = 10, 42  # Kpre and Kpost, in notes; the note itself counts among those after
REST = 10_000_000  # µs without a new note at which a context ends (judgement: 8 to 12 s are as good for harp parts)
_ROUND = 12  # fifths from a note to the next one that sounds the same
# Meredith's tables, where chroma 0 and morph 0 are A: the steps of a harmonic chromatic scale, and the letter
# of the very first note.
_STEPS = (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)
_FIRST = (0, 1, 1, 2, 2, 3, 4, 4, 5, 5, 6, 6)
_OF_MORPH = (Pedal.A, Pedal.B, Pedal.C, Pedal.D, Pedal.E, Pedal.F, Pedal.G)
_A0 = 21
_SHIFTS = (-2 * _ROUND, -_ROUND, 0, _ROUND, 2 * _ROUND)
# The notes that harp parts are written with: F♭ to A♯, those of the keys from C♭ major, the harp's own (Berlioz p. 86),
# to B major (common practice, no source).
FLATTEST, SHARPEST = -8, 10
# The middle note of the better ones, C♭ major to E major: what may as well be in flats as in B, F♯ or C♯ major is
# written in flats, where strings are open (common practice, no source).
MIDDLE = 0.5
# The harmonic chromatic scales of a key signature go from the lowered second step of its major to the raised fourth of
# its minor (fifths from its major's tonic).
LOWERED_SECOND, RAISED_FOURTH = -5, 9
TURN = 10  # fifths that another layer has to bring (judgement)


def in_key(fifth: int, key: int) -> bool:
    """Whether the key signature of so many fifths has the note as it is."""
    return key - 1 <= fifth <= key + 5


def ps13(pitches: Sequence[int], moments: Sequence[int] | None = None) -> tuple[int, ...]:
    """The first stage of ps13: the written note of each MIDI number.

    The numbers are given in order of time, those struck together upwards. moments: of each (µs); None: no rest.
    """
    if not pitches:
        return ()
    chromas = [(pitch - _A0) % 12 for pitch in pitches]
    first = chromas[0]
    tonics = [(_FIRST[first] - _STEPS[(first - tonic) % 12]) % 7 for tonic in range(12)]
    # For each pitch class, the letter that each tonic would give it.
    morphs = [
        [(_STEPS[(chroma - tonic) % 12] + tonics[tonic]) % 7 for tonic in range(12)] for chroma in range(12)
    ]
    rests = [number for number, (one, other) in enumerate(pairwise(moments or ()), 1) if other - one >= REST]
    found = []
    for begin, end in pairwise([0, *rests, len(pitches)]):
        counts = [0] * 12
        for chroma in chromas[begin : min(begin + AFTER - 1, end)]:
            counts[chroma] += 1
        for number in range(begin, end):
            if number + AFTER <= end:
                counts[chromas[number + AFTER - 1]] += 1
            if number - BEFORE > begin:
                counts[chromas[number - BEFORE - 1]] -= 1
            strength = [0] * 7
            for tonic, morph in enumerate(morphs[chromas[number]]):
                strength[morph] += counts[tonic]
            pedal = _OF_MORPH[strength.index(max(strength))]
            found.append(fifth_of(pedal, (pitches[number] - pedal.natural + 6) % 12 - 6))
    return tuple(found)


def ordinary(
    pitches: Sequence[int], key: int | None = None, moments: Sequence[int] | None = None
) -> tuple[int, ...]:
    """The ordinary spelling of MIDI numbers in order of time (those struck together upwards), as written notes.

    What ps13 finds may be right but for the key being twelve fifths off (G♭ for F♯), also for a while. So each attack
    is laid twelve fifths up or down where its notes lie least outside of those that harp parts are written with, and of
    the chromatic scales of the key signature. But it goes on in the key of the attack before, unless another one brings
    `TURN` fifths in all (a best path). Of ways that are as good as each other, the one nearest to the middle. What
    comes after a long rest has no say in what comes before it. A chord has one name for a note in all octaves.

    Args:
        pitches: the MIDI numbers.
        key: fifths of the key signature, whose middle is taken then.
        moments: of each note (µs), equal for notes struck together; None: no two are.
    """
    found = ps13(pitches, moments)
    if not found:
        return ()
    costs = {fifth: _cost(fifth, key) for fifth in {fifth + shift for fifth in found for shift in _SHIFTS}}
    spelled: list[int] = []
    attacks: list[list[int]] = []  # since the last long rest, the notes of each
    before = None
    for number, fifth in enumerate(found):
        since = moments[number] - moments[number - 1] if moments and number else 1
        if since >= REST:
            before = _laid(spelled, attacks, costs, before)
            attacks = []
        if since:
            attacks.append([])
            names: dict[int, int] = {}
        attacks[-1].append(names.setdefault(pitches[number] % 12, fifth))
    _laid(spelled, attacks, costs, before)
    return tuple(spelled)


def _laid(
    spelled: list[int],
    attacks: Sequence[Sequence[int]],
    costs: Mapping[int, tuple[int, float]],
    before: int | None,
) -> int:
    """Lay attacks up or down as the best path has it, and say how far the last of them is laid (fifths).

    Args:
        spelled: gets their notes as they are laid.
        attacks: the notes of each.
        costs: of notes wherever they may be laid.
        before: how far the attack before them is laid, if there is one.
    """
    best: list[tuple[int, float, int]] = [(0 if before in (None, shift) else TURN, 0, 0) for shift in _SHIFTS]
    came: list[list[int]] = []  # for each attack and shift, that of the attack before
    for notes in attacks:
        cheapest = min(range(len(_SHIFTS)), key=lambda one: best[one])
        turned = best[cheapest][0] + TURN, *best[cheapest][1:]
        came.append([place if best[place] <= turned else cheapest for place in range(len(_SHIFTS))])
        now = []
        for shift, known in zip(_SHIFTS, best, strict=True):
            price, away, flats = min(known, turned)
            laid = [costs[fifth + shift] for fifth in notes]
            price += sum([outside for outside, _ in laid])
            now.append((price, away + sum([far for _, far in laid]), flats + shift))
        best = now
    place = min(range(len(_SHIFTS)), key=lambda one: best[one])
    shifts: list[int] = []  # from the last to the first
    for here in reversed(came):
        shifts.append(_SHIFTS[place])
        place = here[place]
    for notes, shift in zip(attacks, reversed(shifts), strict=True):
        spelled += [fifth + shift for fifth in notes]
    return shifts[0]


def _cost(fifth: int, key: int | None) -> tuple[int, float]:
    """By how many fifths a written note lies outside of what is usual, and how far from the middle it is."""
    outside = max(0, FLATTEST - fifth, fifth - SHARPEST)
    if key is None:
        return outside, abs(fifth - MIDDLE)
    return outside + max(0, key + LOWERED_SECOND - fifth, fifth - key - RAISED_FOURTH), abs(fifth - key - 2)


def heeded(keys: Sequence[KeySignature]) -> Sequence[KeySignature]:
    """The key signatures that say something: none where all are C major, which programs write by default."""
    return keys if any(key.fifths for key in keys) else ()


def written(attacks: Sequence[Gathered], keys: Sequence[KeySignature] = ()) -> tuple[int, ...]:
    """How the notes of attacks are written, in order and upwards within each.

    Args:
        attacks: in order of time.
        keys: the key signatures of the part; notes of the key are written as it has them.
    """
    keys = heeded(keys)
    found: list[int] = []
    starts = [
        0,
        *[bisect_left(attacks, key.us, key=lambda attack: attack.us) for key in keys[1:]],
        len(attacks),
    ]
    for number, (start, end) in enumerate(pairwise(starts)):
        notes = [(pitch, attack.us) for attack in attacks[start:end] for pitch, _ in attack.notes]
        pitches = [pitch for pitch, _ in notes]
        fifths = keys[number].fifths if keys else None
        spelled = ordinary(pitches, fifths, [us for _, us in notes])
        if fifths is not None:
            own = {class_of(fifth): fifth for fifth in range(fifths - 1, fifths + 6)}
            spelled = tuple(
                [own.get(pitch % 12, fifth) for pitch, fifth in zip(pitches, spelled, strict=True)]
            )
        found += spelled
    return tuple(found)
