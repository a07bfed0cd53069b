"""Play gathered attacks through the hands alone, as the monitor would."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from livepedal.harp import Figures, Instrument, Player
from livepedal.model.findings import Finding, Layer, Verdict, keep, worst
from livepedal.model.hands import Hands
from livepedal.model.monitor import BareMonitor
from livepedal.music.attacks import Gathered, events_of

FIGURES = Figures.builtin()
HARP = FIGURES.instrument("47")
RELAXED, WORKING, VIRTUOSO = FIGURES.players
NEVER = 1 << 30


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


def played(
    attacks: Sequence[Gathered], players: Sequence[Player] = FIGURES.players, instrument: Instrument = HARP
) -> Iterator[Hands]:
    """The hands after each attack."""
    hands = Hands(players, instrument, FIGURES)
    for attack in attacks:
        hands.open(attack.us)
        for pitch, _ in attack.notes:
            hands.strike(pitch, attack.us)
        hands.judge(tuple(pitch for pitch, _ in attack.notes), attack.us)
        yield hands
        hands.close()
    hands.finish()


def hands_trouble(
    attacks: Sequence[Gathered], player: Player = WORKING, instrument: Instrument = HARP
) -> list[int]:
    """Indices of the attacks that this player's hands cannot play."""
    return [n for n, hands in enumerate(played(attacks, (player,) * 3, instrument)) if hands.failed[1]]


def first_trouble(attacks: Sequence[Gathered], instrument: Instrument = HARP) -> tuple[int, int, int]:
    """For each player the index of the first attack whose hands cannot play it, NEVER where there is none."""
    found = [NEVER] * 3
    for number, hands in enumerate(played(attacks, instrument=instrument)):
        for n, failed in enumerate(hands.failed):
            if failed and found[n] == NEVER:
                found[n] = number
    return found[0], found[1], found[2]


def told(attacks: Sequence[Gathered], player: str = "working") -> tuple[BareMonitor, list[Finding]]:
    """What a monitor of the hands alone says in the end of attacks that stay as they are gathered."""
    monitor = BareMonitor(replace(FIGURES, window=replace(FIGURES.window, attack=0)), HARP, player, only=(Layer.HANDS,))
    found: dict[int, Finding] = {}
    for event in events_of(attacks):
        keep(found, monitor.feed(event))
    keep(found, monitor.finish())
    return monitor, list(found.values())


def verdict(attacks: Sequence[Gathered]) -> Verdict:
    """The verdict on the hands."""
    monitor, _ = told(attacks)
    return worst(passage.verdict for passage in monitor.passages)
