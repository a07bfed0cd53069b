"""Random live streams, and what came of them, for the tests that hold live and file against each other."""

from __future__ import annotations

from dataclasses import dataclass

from hypothesis import strategies as st

from livepedal.harp import Figures
from livepedal.live import saving
from livepedal.live.session import Session
from livepedal.live.setup import Setup
from livepedal.model.findings import Finding, keep
from livepedal.model.watching import Monitor
from livepedal.music.events import SetPedals
from livepedal.music.parts import choose_parts
from livepedal.music.song import read_song

# What a message may follow another after (µs): together, within an attack, a fast run, a slow one, a rest.
GAPS = st.sampled_from(
    [0, 0, 0, 1, 90, 260, 521, 900, 3_000, 20_000, 34_900, 35_100, 60_000, 120_000, 400_000]
)
RARE_GAPS = st.sampled_from([1_000_000, 1_499_000, 1_600_000, 4_000_000])


@dataclass(frozen=True)
class Step:
    """A message (data), a command (word) or time passing (neither), so long after the step before (µs)."""

    gap: int
    source: int = 0
    data: bytes = b""
    word: str = ""
    argument: str = ""


@st.composite
def steps(draw: st.DrawFn, most: int = 60, clocks: bool = True) -> list[Step]:
    """Mostly notes on a few keys, now and then what else comes down a wire."""
    pitches = draw(st.lists(st.integers(55, 70), min_size=2, max_size=8, unique=True))
    sources = draw(st.sampled_from([(0,), (0, 1)]))
    made = []
    for _ in range(draw(st.integers(1, most))):
        gap = draw(GAPS) if draw(st.integers(0, 14)) else draw(RARE_GAPS)
        source = draw(st.sampled_from(sources))
        channel = draw(st.sampled_from([0, 0, 0, 0, 1, 9]))
        pitch = draw(st.sampled_from(pitches))
        kind = draw(st.integers(0, 19))
        if kind < 9:
            made.append(Step(gap, source, bytes((0x90 | channel, pitch, draw(st.integers(1, 127))))))
        elif kind < 14:
            made.append(Step(gap, source, bytes((0x80 | channel, pitch, 0))))
        elif kind == 14:
            made.append(Step(gap, source, bytes((0x90 | channel, pitch, 0))))
        elif kind == 15:
            value = draw(st.sampled_from([0, 127]))
            made.append(
                Step(gap, source, bytes((0xB0 | channel, draw(st.sampled_from([64, 121, 123])), value)))
            )
        elif kind == 16:
            made.append(
                Step(
                    gap,
                    source,
                    draw(st.sampled_from([b"\xfe", b"\xf0\1\2\xf7", b"\xe0\1\2", b"\xff", b"\5"])),
                )
            )
        elif kind == 17 and clocks:
            made.append(Step(gap, word="tap"))
        elif kind == 18:
            made.append(Step(gap, word="gone", argument=str(source)))
        else:
            made.append(Step(gap))
    return made


def setup(tempo: int | None = None, player: str = "working", metre: tuple[int, int] = (4, 4)) -> Setup:
    figures = Figures.builtin()
    return Setup(figures, figures.instrument("47"), player, tempo=tempo, metre=metre)


def play(session: Session, made: list[Step], pass_time: bool = True) -> list[Finding]:
    """Play the steps and finish; the findings that were told and not taken back."""
    told: list[tuple[int, Finding]] = []

    def gather() -> None:
        told.extend((news.piece.number, news.what) for news in session.news() if isinstance(news.what, Finding))

    us = 0
    for step in made:
        us += step.gap
        if step.data:
            session.message(us, step.source, step.data)
        elif step.word:
            session.command(us, step.word, step.argument)
        elif pass_time:
            session.advance(us)
        gather()
    session.finish(us)
    gather()
    return standing(told)


def standing(told: list[tuple[int, Finding]]) -> list[Finding]:
    """Those of each take that were not taken back, as they were told last, by their ids."""
    left: dict[tuple[int, int], Finding] = {}
    for take, finding in told:
        if finding.withdrawn:
            del left[take, finding.id]
        else:
            left[take, finding.id] = finding
    return [left[key] for key in sorted(left)]


def of_file(data: bytes, setup: Setup, player: str | None = None) -> list[Finding]:
    """The findings of a file, each as it was in the end, by a monitor that is fed the file's events."""
    part = choose_parts(read_song(data, name="saved"))[0]
    monitor = Monitor(setup.figures, setup.instrument, player or setup.player, only=setup.layers)
    if setup.setting is not None:
        monitor.feed(SetPedals(0, setup.setting))
    found: dict[int, Finding] = {}
    for event in part.events:
        keep(found, monitor.feed(event))
    keep(found, monitor.finish())
    return [found[number] for number in sorted(found)]


def saved(session: Session) -> list[bytes]:
    """The files of all takes of a session that is over."""
    return [saving.whole(take, "test").data for take in session.finished]


__all__ = ["Session", "Step", "of_file", "play", "saved", "setup", "standing", "steps"]
