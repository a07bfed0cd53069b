"""What a session sends: answers to verdicts, passages that are heard again, and remarks about a key to stay in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest

from livepedal.advice.judging.basis import Basis
from livepedal.errors import LivepedalError
from livepedal.harp import Figures
from livepedal.live.advising import advise
from livepedal.live.again import NO_PASSAGE, Again, message_of, sounds_of
from livepedal.live.answering import Answering
from livepedal.live.chapters import PastPassage
from livepedal.live.faults import Faults, Stage
from livepedal.live.playback import Pace
from livepedal.live.session import Session
from livepedal.live.stay import Stay
from livepedal.model.findings import Finding, Passage, Verdict
from livepedal.music.events import NoteOff, NoteOn, Sustain
from livepedal.replay import Replay
from livepedal.sources.journal import Heard
from livepedal.sources.ports.outputs import AGAIN
from livepedal.views.dashboard.history import Chapter
from tests.advice.changed import part_of
from tests.live.streams import setup
from tests.views.making import finding

FIGURES = Figures.builtin().answer
STRUCK, RELEASED = Heard(0, 0, b"\x90\x3c\x40"), Heard(0, 0, b"\x80\x3c\x40")
UNPLAYABLE = finding(verdict=Verdict.UNPLAYABLE)
WELL = Chapter(1, Passage(0, 9, 9, Verdict.EASY, False, 7), ())


class Answered:
    """Answers, and when they are due."""

    def __init__(self, folder: Path, **figures: object) -> None:
        self.faults = Faults(folder / "x.journal")
        self.sent: list[tuple[tuple[int, ...], int]] = []
        self.to = Answering(replace(FIGURES, **figures), self.faults, self.send, bell=True)  # type: ignore[arg-type]

    def send(self, data: Sequence[int], due: int) -> None:
        self.sent.append((tuple(data), due))

    def judged(self, *found: Finding) -> list[tuple[int, ...]]:
        self.to.judged(STRUCK, found)
        return self.new()

    def new(self) -> list[tuple[int, ...]]:
        sent, self.sent = self.sent, []
        return [data for data, _ in sent]


def test_each_attack_that_becomes_unplayable_has_one_answer(tmp_path: Path) -> None:
    """At once, and let go of later; neither what is only hard nor what was answered has one, however often it is revised."""
    answered = Answered(tmp_path)
    assert answered.judged(replace(UNPLAYABLE, verdict=Verdict.VIRTUOSO)) == []
    answered.to.judged(STRUCK, (replace(UNPLAYABLE, revised=1),))
    (on, off), (now, later) = zip(*answered.sent, strict=True)
    assert (on, off) == ((0x99, 77, 100), (0x89, 77, 0))
    assert now == 0 < later
    assert answered.new()
    assert answered.judged(replace(UNPLAYABLE, revised=2)) == []
    assert answered.judged(replace(UNPLAYABLE, id=2)) == []  # another reason, of the same attack
    assert answered.judged(replace(UNPLAYABLE, id=3, us=UNPLAYABLE.us + 1, withdrawn=True)) == []
    assert len(answered.judged(replace(UNPLAYABLE, id=3, us=UNPLAYABLE.us + 1))) == 2
    assert answered.to.bells == 2


def test_figures_say_what_is_sent(tmp_path: Path) -> None:
    answered = Answered(tmp_path, channel=16, unplayable=20, velocity=1, controllers=True)
    assert answered.judged(UNPLAYABLE) == [(0xBF, 20, 1), (0xBF, 20, 0)]


def test_all_was_well_is_said_when_the_passage_is_over(tmp_path: Path) -> None:
    answered = Answered(tmp_path)
    answered.to.over(WELL)
    assert answered.new() == [(0x99, 81, 100), (0x89, 81, 0)]
    answered.to.over(replace(WELL, findings=(finding(),)))
    assert answered.new() == []
    answered.to.over(replace(WELL, findings=(finding(audible=True),)))  # no failure
    assert len(answered.new()) == 2


def test_a_fault_in_answering_is_no_fault_of_judging(tmp_path: Path) -> None:
    def broken(data: Sequence[int], due: int) -> None:
        raise ZeroDivisionError

    answered = Answered(tmp_path)
    answered.to._send = broken
    answered.to.judged(STRUCK, (UNPLAYABLE,))
    assert set(answered.faults.first) == {Stage.ANSWERS}


class Synth:
    """A sender that keeps what it is given."""

    def __init__(self) -> None:
        self.sent: list[tuple[int, tuple[int, ...]]] = []
        self.let_go_of: list[int] = []

    def send(self, voice: int, data: Sequence[int]) -> None:
        assert voice != AGAIN
        self.sent.append((0, tuple(data)))

    def send_all(self, voice: int, messages: Sequence[tuple[int, Sequence[int]]]) -> None:
        assert voice == AGAIN
        self.sent += [(due, tuple(data)) for due, data in messages]

    def let_go(self, voice: int) -> None:
        self.let_go_of.append(voice)


def test_a_passage_is_heard_again_as_played_then_slower_then_stopped() -> None:
    """The paddle wheel, live: every note with its velocity and its time from the first, and of nothing before it."""
    session = Session(setup())
    session.message(0, 0, b"\x90\x18\x40")
    session.message(100_000, 0, b"\x80\x18\x40")
    session.advance(5_000_000)
    events = [e for e in part_of("03-paddle-wheel.mid").events if isinstance(e, NoteOn | NoteOff)]
    for event in events:
        session.message(5_000_000 + event.us, 0, bytes(message_of(event)))
    session.advance(60_000_000)
    asked = session.take.question(len(session.take.closed) - 1)
    now, synth = 0, Synth()
    again = Again(synth, clock=lambda: now)  # type: ignore[arg-type]
    assert again.press(None) == NO_PASSAGE
    past = PastPassage(Chapter(2, asked.passage, ()), asked)
    assert again.press(past) == "passage 2 as it was played; a stops it"
    first = events[0].us
    told, synth.sent = synth.sent, []
    assert [data[:2] for _, data in told] == [message_of(event)[:2] for event in events]
    assert [data[2] for _, data in told if data[0] == 0x90] == [
        e.velocity for e in events if isinstance(e, NoteOn)
    ]
    start = told[0][0]
    # Ticks of a 960th of a quarter round each moment.
    assert [(due - start) // 1000 for due, _ in told] == pytest.approx(
        [e.us - first for e in events], abs=1100
    )
    assert again.press(past) == "passage 2 stopped"
    (remedy,) = (r for a in advise(asked) for r in a.remedies[:1] if a.planned and not a.last)
    past.ratio = remedy.ratio
    assert remedy.ratio is not None
    assert remedy.ratio < 1
    assert again.press(past).startswith("passage 2 as it was played; a again plays it at ")
    synth.sent.clear()
    assert again.press(past).endswith("% of the tempo; a stops it")
    slower = [(due - synth.sent[0][0]) * remedy.ratio for due, _ in synth.sent]
    assert slower == pytest.approx([due - start for due, _ in told], abs=10)
    now = int(told[-1][0] / remedy.ratio) + 10**9
    assert "as it was played" in again.press(past)  # it had come to its end
    assert set(synth.let_go_of) == {AGAIN}


def test_sustain_of_a_file_is_heard_too() -> None:
    events = (NoteOn(1000, 60, 5), Sustain(2000, True), NoteOff(3000, 60), NoteOn(9000, 61))
    passage = Passage(1000, 1000, 3000, Verdict.EASY, False, 1)
    session = Session(setup())
    session.message(0, 0, b"\x90\x3c\x40")
    session.finish(100_000)
    asked = replace(session.take.question(len(session.take.closed) - 1), passage=passage, events=events)
    assert list(sounds_of(asked)) == [(0, (0x90, 60, 5)), (1000, (0xB0, 64, 127)), (2000, (0x80, 60, 64))]


def test_a_replay_sounds_as_it_goes_and_halts_for_a_passage() -> None:
    now, synth, part = 0, Synth(), part_of("12-moored.mid")
    figures = Figures.builtin()
    replay = Replay(
        *(part, "moored", Basis(figures, figures.instrument("47"))),
        pace=Pace(clock=lambda: now),
        stays=True,
        output=synth,  # type: ignore[arg-type]
    )
    sounds = [(event.us, message_of(event)) for event in part.events if message_of(event)]
    now = 4_000_000_000
    replay.goes_on()
    assert [data for _, data in synth.sent] == [data for us, data in sounds if us <= 4_000_000]
    now += 500_000_000  # it is late with what is due
    replay.key("a")
    assert replay.details() == NO_PASSAGE
    assert replay.scene().state == "paused"
    assert [data for _, data in synth.sent] == [data for us, data in sounds if us <= 4_500_000]
    assert set(synth.let_go_of) == {0, AGAIN}
    replay.key(" ")
    now += 60_000_000_000
    replay.goes_on()
    assert [data for _, data in synth.sent] == [data for _, data in sounds]
    synth.sent.clear()
    replay.key("a")
    assert replay.details() == "passage 1 as it was played; a stops it"
    assert [data for _, data in synth.sent] == [data for _, data in sounds]
    replay.end()


@pytest.mark.parametrize(
    ("key", "inside", "leaves"),
    [
        ("E♭ major", (63, 65, 67, 68, 70, 72, 74), {66: "G♭4", 73: "D♭5", 71: "B♮4"}),
        ("F# minor", (66, 68, 69, 71, 73, 74, 76), {65: "F♮4", 63: "D♯4"}),
        ("C♭ major", (71, 73, 75, 76, 78, 80, 82), {60: "C♮4"}),
    ],
)
def test_a_key_to_stay_in(key: str, inside: tuple[int, ...], leaves: dict[int, str]) -> None:
    """The scales as any theory book has them. The first note that leaves them is told, once a passage."""
    stay = Stay(key)
    assert not any(map(stay.struck, inside))
    for pitch, name in leaves.items():
        assert stay.struck(pitch) == f"{name} leaves {stay.name}"
        assert not any(map(stay.struck, range(128)))
        stay.over()
    with pytest.raises(LivepedalError, match="not the name of a key"):
        Stay("H major")


def test_a_session_remarks_on_what_leaves_the_key(tmp_path: Path) -> None:
    session = Session(setup())
    session.command(0, "stay", "E♭ major")
    for number, pitch in enumerate((63, 66, 67, 66)):
        session.message(number * 500_000, 0, bytes((0x90, pitch, 64)))
        session.message(number * 500_000 + 100_000, 0, bytes((0x80, pitch, 64)))
    told = [news.what for news in session.news() if isinstance(news.what, str)]
    assert told == ["G♭4 leaves E♭ major"]
    session.command(3_000_000, "stay", "")
    session.message(9_000_000, 0, b"\x90\x42\x40")
    assert not [news for news in session.news() if isinstance(news.what, str)]
