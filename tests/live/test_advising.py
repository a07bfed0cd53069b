"""Advice on passages while a session goes on: by a real process, which may be slow, be killed, or lose its
parent.
"""

from __future__ import annotations

import contextlib
import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from fractions import Fraction
from multiprocessing import resource_tracker
from pathlib import Path

import pytest

from livepedal.advice.check import check_file
from livepedal.advice.judging.basis import Basis
from livepedal.advice.judging.part import judge_part
from livepedal.advice.remedies.remedy import RemedyKind
from livepedal.advice.remedies.telling import Teller
from livepedal.live.advising import NO_ONE_REMEDY, NO_TEMPO, Advice, advise
from livepedal.live.advisor import MOST_FAILURES, Advisor
from livepedal.live.listen import Listener
from livepedal.live.playback import Playback
from livepedal.live.question import Question
from livepedal.live.session import Session
from livepedal.model.findings import Finding, Kind
from livepedal.model.watching import Monitor
from livepedal.music.events import Event, NoteOff, NoteOn
from livepedal.music.timemap import TimeMap
from livepedal.sources.journal import Header, JournalWriter
from livepedal.views.plain import passage_line
from livepedal.views.signs import FULL
from tests.advice.changed import BUILTIN, HARP, RECORDINGS, part_of
from tests.live.streams import setup

PATIENCE = 300.0  # seconds; the process has a low priority, and gets little of a busy machine


def messages(name: str, at: int = 0) -> Iterator[tuple[int, bytes]]:
    """A recording as it would come down a wire, from `at` (µs) on."""
    for event in part_of(name).events:
        if isinstance(event, NoteOn):
            yield at + event.us, bytes((0x90, event.pitch, event.velocity))
        elif isinstance(event, NoteOff):
            yield at + event.us, bytes((0x80, event.pitch, 0))


def question(name: str = "03-paddle-wheel.mid") -> Question:
    """About the only passage of a recording, played live."""
    return question_about(messages(name, at=5_000))


def question_about(played: Iterable[tuple[int, bytes]]) -> Question:
    session = Session(setup())
    for us, data in played:
        session.message(us, 0, data)
    session.finish(60_000_000)
    (asked,) = [news.what for news in session.news() if isinstance(news.what, Question)]
    return asked


def judged(question: Question, **how: object) -> Question:
    """The same, judged in another way."""
    return replace(question, basis=replace(question.basis, **how))  # type: ignore[arg-type]


def until(true: Callable[[], object], seconds: float = PATIENCE) -> bool:
    end = time.monotonic() + seconds
    while not true() and time.monotonic() < end:
        time.sleep(0.01)
    return bool(true())


def runs(process: int) -> bool:
    """Whether a process is there and has not ended."""
    try:
        return Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0] not in "ZX"
    except OSError:
        return False


def test_live_advice_is_that_of_the_file() -> None:
    (part,) = check_file(RECORDINGS / "03-paddle-wheel.mid", remedies=True).files[0].parts
    assert part.advice is not None
    filed = {r.kind: r for p in part.advice.passages for r in p.remedies}
    *_, last = advise(question())
    live = {remedy.kind: remedy for remedy in last.remedies}
    assert last.last
    assert RemedyKind.TEMPO in live
    # Live the moments are those of the grid, a tick of half a millisecond at most away.
    difference = live[RemedyKind.TEMPO].ratio - filed[RemedyKind.TEMPO].ratio  # type: ignore[operator]
    assert abs(difference) <= 0.01


def test_the_tempo_comes_with_the_spelling() -> None:
    """What the pedal changes tell, whether it is too much at once, stands behind the tempo."""
    first, last = advise(question())
    tempo, spelling, *worth = first.lines
    assert tempo.startswith("passage 1, from 0.00 s to ")
    assert re.search("playable about [a-z ]+: count [1-9] where you counted [1-9]0?$", tempo)
    assert ": at this tempo, for this passage alone, set " in spelling
    assert spelling.endswith("; * there is no time for it")
    assert all(", working player: worth knowing: " in line for line in worth)
    assert [one.last for one in (first, last)] == [False, True]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "player"),
    [("14-engine-bells.mid", "working"), ("11-weir.mid", "relaxed")],
)
def test_a_tempo_is_not_told_at_which_it_is_too_much_at_once(name: str, player: str) -> None:
    """Against `check`, which judges the file at the tempo that is told."""
    *_, last = advise(judged(question(name), player=player))
    (part,) = check_file(RECORDINGS / name, player=player, remedies=True).files[0].parts
    assert part.advice is not None
    (whole,) = (tempo for tempo in part.advice.tempos if tempo.player == player)
    if not whole.sensible:
        assert last.mend == NO_TEMPO
        assert not last.remedies
    else:
        (remedy,) = last.remedies
        assert remedy.ratio is not None
        assert whole.ratio is not None
        assert abs(remedy.ratio - whole.ratio) <= Fraction(2, 100)


@pytest.mark.slow
def test_a_second_harp_has_the_bars_that_check_gives_it() -> None:
    """Hand-overs lie at bar lines, and no bar counts in which nothing is struck."""
    name = "03-paddle-wheel.mid"
    played = part_of(name)
    (part,) = check_file(RECORDINGS / name, remedies=True).files[0].parts
    assert part.advice is not None
    teller = Teller(HARP, part.time_map, struck=part.struck)
    found = [remedy for passage in part.advice.passages for remedy in passage.remedies]
    (filed,) = (teller.what(remedy) for remedy in found if remedy.kind is RemedyKind.SECOND_HARP)
    live = replace(
        question(name), passage=part.passages[0], time_map=played.time_map, bars=True,
        events=tuple(played.events),
    )  # fmt: skip
    *_, last = advise(live)
    assert last.mend == f"or {filed}"


def test_where_no_one_remedy_mends_it_all_it_says_who_looks_at_each_place() -> None:
    """G, A♭ and A at once, a note above the harp, and a string without a pedal: a remedy each, and none for all."""
    chords = ((60,), (67, 68, 69), (60,), (60, 108), (64,), (25,), (60,))
    played = [
        (number * 600_000 + up * 500_000, bytes((0x80 if up else 0x90, pitch, 64)))
        for number, chord in enumerate(chords)
        for up in (0, 1)
        for pitch in chord
    ]
    *_, last = advise(question_about(played))
    assert last.mend == NO_ONE_REMEDY
    assert not last.remedies


def test_a_playable_passage_gets_its_spelling_only() -> None:
    first, last = advise(question("06-three-lanterns.mid"))
    spelling, *worth = first.lines
    assert all(", working player: worth knowing: " in line for line in worth)
    assert ": for this passage alone, set " in spelling
    assert "pedal change" in spelling
    assert not last.lines
    assert not last.remedies
    assert last.last


@pytest.mark.parametrize("name", ["01-slack-water.mid", "11-weir.mid", "14-engine-bells.mid"])
def test_what_is_too_much_at_once_is_judged_as_check_judges_it(name: str) -> None:
    """The recordings' README has 11-weir as too much at once, and nothing else wrong with it."""
    asked = question(name)
    filed = judge_part(part_of(name), Basis(BUILTIN, HARP))
    heavy = [f.load and f.load.changes for f in filed.findings if f.kind is Kind.TOO_MUCH]
    assert bool(heavy) == (name != "01-slack-water.mid")
    assert [f.load and f.load.changes for f in asked.findings if f.kind is Kind.TOO_MUCH] == heavy
    assert asked.passage.verdict is filed.passages[0].verdict
    *_, last = advise(asked)
    assert last.planned is not None
    assert last.planned.too_much == bool(heavy)



def test_only_what_is_near_is_gone_back_to() -> None:
    """A second passage has the one before it as its context, and is numbered in its take."""
    session = Session(setup())
    for at in (5_000, 40_000_000):
        for us, data in messages("03-paddle-wheel.mid", at=at):
            session.message(us, 0, data)
    session.finish(80_000_000)
    _, asked = [news.what for news in session.news() if isinstance(news.what, Question)]
    *_, last = advise(asked)
    assert last.passage_number == 2
    assert all(remedy.start >= asked.passage.start for remedy in last.remedies)


class Heard:
    """An advisor with what it said."""

    def __init__(self) -> None:
        self.advice: list[Advice] = []
        self.sentences: list[str] = []
        self.done: list[Question] = []
        self.advisor = Advisor(
            self.advice.append,
            self.sentences.append,
            self.done.append,
        )


def process_of(heard: Heard) -> int | None:
    """The number of the process, while there is one."""
    process = heard.advisor._process
    return None if process is None else process.pid


@pytest.fixture
def heard() -> Iterator[Heard]:
    made = Heard()
    yield made
    process = process_of(made)
    made.advisor.end()
    assert process is None or until(lambda: not runs(process))


@pytest.mark.slow
def test_a_process_answers(heard: Heard) -> None:
    assert process_of(heard) is None  # started with the first music
    heard.advisor.ask(question())
    assert until(lambda: heard.advice and heard.advice[-1].last)
    assert process_of(heard) not in (None, os.getpid())
    assert [line for one in heard.advice for line in one.lines] == [
        line for one in advise(question()) for line in one.lines
    ]
    assert not heard.sentences


@pytest.mark.slow
def test_asking_waits_for_nobody(heard: Heard) -> None:
    """With the process stopped by the system, questions are taken, and answered once it goes on."""
    heard.advisor.wake()
    assert until(lambda: process_of(heard))
    process = process_of(heard)
    assert process is not None
    os.kill(process, signal.SIGSTOP)
    for _ in range(3):
        heard.advisor.ask(question())
    assert not heard.advice
    os.kill(process, signal.SIGCONT)
    assert until(lambda: sum(one.last for one in heard.advice) == 3)


def test_a_process_that_is_killed_is_told_of_and_replaced(heard: Heard) -> None:
    heard.advisor.wake()
    assert until(lambda: process_of(heard))
    first = process_of(heard)
    assert first is not None
    os.kill(first, signal.SIGKILL)
    heard.advisor.ask(question())
    assert until(lambda: heard.sentences)
    assert heard.sentences == [
        "no advice on this passage (the process that works on it ended); everything else continues"
    ]
    heard.advisor.ask(question())
    assert until(lambda: heard.advice and heard.advice[-1].last)
    assert process_of(heard) != first


def test_what_cannot_be_worked_out_is_told_in_a_line_and_given_up_in_the_end(heard: Heard) -> None:
    broken = judged(question(), player="nobody")
    for _ in range(MOST_FAILURES + 2):
        heard.advisor.ask(broken)
    assert until(lambda: len(heard.sentences) == MOST_FAILURES)
    assert heard.sentences[-1].endswith("; there will be no more advice; everything else continues")
    assert all("\n" not in sentence for sentence in heard.sentences)
    heard.advisor.end(wait=5)
    assert len(heard.sentences) == MOST_FAILURES
    assert not heard.advice


def test_where_nothing_can_be_started_it_is_told_and_nobody_waits(
    heard: Heard, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails() -> None:
        raise OSError("too many open files")

    monkeypatch.setattr(resource_tracker, "ensure_running", fails)
    asked = question()
    heard.advisor.ask(asked)
    assert until(lambda: bool(heard.sentences))
    assert "too many open files" in heard.sentences[0]
    heard.advisor.end(wait=30)
    assert heard.done == [asked]


PARENT = """
import os, sys, time
from livepedal.live.advisor import Advisor
if __name__ == "__main__":
    advisor = Advisor(print, print)
    advisor.wake()
    while advisor._process is None:
        time.sleep(0.01)
    print(advisor._process.pid, flush=True)
    time.sleep(60)
"""


@contextlib.contextmanager
def parent_of_a_process(folder: Path) -> Iterator[tuple[subprocess.Popen[str], int]]:
    """Another Python that has an advisor, and the advisor's process."""
    script = folder / "parent.py"
    script.write_text(PARENT)
    paths = os.pathsep.join(path for path in sys.path if path)
    with subprocess.Popen(
        [sys.executable, str(script)],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": paths},
    ) as parent:
        assert parent.stdout is not None
        yield parent, int(parent.stdout.readline())


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="looks into /proc")
def test_the_process_dies_with_its_parent(tmp_path: Path) -> None:
    with parent_of_a_process(tmp_path) as (parent, process):
        assert runs(process)
        parent.kill()
    assert until(lambda: not runs(process))


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="looks into /proc")
def test_ctrl_c_cannot_end_the_process_while_it_starts(tmp_path: Path) -> None:
    """It reaches all processes of a terminal; until this one can say that it does not care, it must be kept from it."""
    with parent_of_a_process(tmp_path) as (parent, process):
        status = Path(f"/proc/{process}/status").read_text()
        parent.kill()
    blocked = int(next(row.split()[1] for row in status.splitlines() if row.startswith("SigBlk:")), 16)
    assert blocked & 1 << signal.SIGINT - 1


@pytest.mark.slow
def test_a_session_tells_advice_when_it_comes(tmp_path: Path) -> None:
    header = Header("2026-01-01 12.00.00", "test")
    journal = JournalWriter(tmp_path / "x.journal", header)
    now = 0  # ns; not the machine's clock, since a machine that is busy would play another rhythm
    listener = Listener(setup(), journal, tmp_path, clock=lambda: now, advises=True)
    findings: list[Finding] = []
    listener.judging.judged = lambda us, found: findings.extend(found)  # type: ignore[method-assign]
    listener.start()
    receive = listener.receiver(0)
    for us, data in messages("03-paddle-wheel.mid"):
        now = us * 1000
        receive(data)
    lines: list[str] = []

    def told() -> bool:
        nonlocal now
        now += 20_000_000
        lines.extend(text for one in listener.news_lines() for text, _ in one)
        return any(line.startswith("passage 1, ") and " for this passage alone, set " in line for line in lines)

    try:
        assert until(told)
        assert any("where you counted" in line for line in lines)
        (chapter,) = listener.chapters
        assert chapter.planned
        assert "·" not in chapter.entry  # all seven are used in this recording
        assert findings
    finally:
        listener.end()
    assert not listener.clerk.failed
    assert [one.path.suffix for one in listener.clerk.written] == [".mid"]


@pytest.mark.parametrize("released", [True, False])
def test_a_last_key_that_is_never_released_is_in_the_bars(released: bool) -> None:
    """At 120 quarters a minute bar 2 starts with the last of nine notes an eighth long. Where that ends at once, or
    nobody knows when, the passage is still told with the bars of its attacks.
    """
    events: list[Event] = []
    for number in range(9):
        events.append(NoteOn(number * 250_000, 60 + 2 * number, 64))
        if released or number < 8:
            events.append(NoteOff(number * 250_000 + 200_000, 60 + 2 * number))
    monitor = Monitor(BUILTIN, HARP, "working")
    for event in events:
        monitor.feed(event)
    monitor.finish()
    (passage,) = monitor.passages
    asked = replace(
        question(),
        passage=passage,
        events=tuple(events),
        time_map=TimeMap.steady(),
        bars=True,
    )
    assert ": passage over, bars 1 and 2, 9 attacks: " in passage_line(passage, asked.time_map, FULL)
    assert {advice.head for advice in advise(asked)} == {"passage 1, bars 1 and 2, working player"}


def test_a_replay_plans_with_the_key_signatures_of_its_file_as_check_does() -> None:
    # Without them its second half is written in flats, with a pedal change fewer.
    part = part_of("02-upstream.mid")
    playback = Playback(part, Basis(BUILTIN, HARP), "C4")
    for _ in part.events:
        playback.feed()
    playback.advance(playback.due)
    asked = playback.last_question()
    assert asked is not None
    (report,) = check_file(RECORDINGS / "02-upstream.mid").files[0].parts
    changes = f"then {len(report.plan.changes)} pedal changes"
    assert changes in "".join(said.spelled for said in advise(asked))
    assert changes not in "".join(said.spelled for said in advise(replace(asked, keys=())))
