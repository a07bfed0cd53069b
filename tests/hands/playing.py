"""Play gathered attacks through the hands alone, or through feet, strings and hands together, as the monitor
would.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from livepedal.harp import Figures, Instrument, Player, Ringing
from livepedal.model.chords import Chords
from livepedal.model.hands import HandsTracker
from livepedal.model.joint import Joint
from livepedal.model.performer import Performer
from livepedal.model.tracker import Released
from livepedal.music.attacks import Gathered

FIGURES = Figures.builtin()
HARP = FIGURES.instrument("47")
RELAXED, WORKING, VIRTUOSO = FIGURES.players


def line(pitches: Sequence[int | tuple[int, ...]], step: int, start: int = 0) -> tuple[Gathered, ...]:
    """Notes or chords one after another, `step` µs apart, each released when the next one comes."""
    return tuple(
        Gathered(
            start + n * step,
            tuple((p, start + (n + 1) * step) for p in sorted({one} if isinstance(one, int) else set(one))),
        )
        for n, one in enumerate(pitches)
    )


def merged(*voices: Sequence[Gathered]) -> tuple[Gathered, ...]:
    """Voices played at once: attacks of one moment are one attack."""
    found: dict[int, dict[int, int | None]] = {}
    for voice in voices:
        for attack in voice:
            found.setdefault(attack.us, {}).update(attack.notes)
    return tuple(Gathered(us, tuple(sorted(notes.items()))) for us, notes in sorted(found.items()))


def hands_trouble(
    attacks: Sequence[Gathered], player: Player = WORKING, instrument: Instrument = HARP
) -> list[int]:
    """Indices of the attacks that the hands alone cannot play."""
    tracker = HandsTracker(player, instrument)
    chords = Chords(instrument)
    found = []
    for number, attack in enumerate(attacks):
        pitches = tuple(pitch for pitch, _ in attack.notes)
        tracker.open(attack.us)
        if not tracker.judge(pitches, chords.ways(pitches), attack.us):
            found.append(number)
    return found


def joint_outcomes(
    attacks: Sequence[Gathered],
    player: Player = WORKING,
    instrument: Instrument = HARP,
    ringing: Ringing | None = None,
    *,
    sliding: bool = False,
    always: bool = False,
) -> Iterator[Performer | Joint]:
    """The performer after each attack; `always`: the joint search by itself, which watches every string."""
    ringing = ringing or FIGURES.ringing
    joint = (Joint if always else Performer)(player, instrument, sliding, ringing)
    if isinstance(joint, Joint):
        joint.watch(frozenset(string.number for string in instrument.strings))
    chords = Chords(instrument)
    struck: dict[int, int] = {}
    down: dict[int, int | None] = {}
    latest = 0
    for attack in attacks:
        up: list[Released] = []
        for pitch, end in sorted(down.items(), key=lambda item: (item[1] is None, item[1] or 0, item[0])):
            if end is not None and end <= attack.us:
                up.append((pitch, end, latest if struck[pitch] < latest <= end else end))
                del down[pitch]
        if up:
            joint.release_after(up)
        joint.open(attack.us)
        again = [(pitch, attack.us, attack.us) for pitch, _ in attack.notes if pitch in down]
        if again:
            joint.release_before(again)
        for pitch, end in attack.notes:
            joint.strike(pitch, attack.us)
            struck[pitch], down[pitch] = attack.us, end
        latest = attack.us
        pitches = tuple(pitch for pitch, _ in attack.notes)
        joint.judge(pitches, chords.ways(pitches), attack.us)
        yield joint


def joint_trouble(
    attacks: Sequence[Gathered],
    player: Player = WORKING,
    instrument: Instrument = HARP,
    ringing: Ringing | None = None,
    *,
    sliding: bool = False,
    always: bool = False,
) -> int | None:
    """Index of the first attack that the player cannot play with feet, strings and hands together; None: all
    can.
    """
    for number, joint in enumerate(
        joint_outcomes(attacks, player, instrument, ringing, sliding=sliding, always=always)
    ):
        if joint.failed:
            return number
    return None
