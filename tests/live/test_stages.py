"""Each stage of a session by itself: hearing goes on while judging is behind or has failed, and judging while words
fail; and whatever happens, the journal and the file are whole.
"""

from __future__ import annotations

import signal
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType

import mido
import pytest

from livepedal.live import saving
from livepedal.live.clerk import Clerk
from livepedal.live.faults import Faults, Stage
from livepedal.live.listen import Listener
from livepedal.live.recover import recover
from livepedal.live.session import Session
from livepedal.live.setup import setup_of
from livepedal.model.findings import Finding
from livepedal.model.monitor import BareMonitor
from livepedal.sources.journal import Command, Header, Heard, JournalWriter, read_journal, unfinished
from livepedal.sources.raw import unpacked
from livepedal.views import plain
from livepedal.views.dashboard.screen import dashboard_lines
from livepedal.views.lines import plain_text
from tests.live.streams import of_file

HEADER = Header("2024-05-01T20:15:00+02:00", tempo=500_000, rest=400_000)
# G, A♭ and A at once, which nobody can; then what everybody can.
CLUSTER = (67, 68, 69)
SCALE = (60, 62, 64, 65)
SHUFFLED = [n * 7919 % 1_000_003 for n in range(300_000)]


class Clock:
    """Nanoseconds, set by hand."""

    now = 5_000_000_000

    def __call__(self) -> int:
        return self.now


@dataclass
class Played:
    """A session in a folder, played at a clock set by hand."""

    folder: Path
    header: Header = HEADER
    clock: Clock = field(default_factory=Clock)
    told: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.journal = self.folder / "a.journal"
        writer = JournalWriter(self.journal, self.header)
        self.listener = Listener(
            setup_of(self.header), writer, self.folder, clock=self.clock
        )

    def strike(self, *pitches: int, seconds: float = 0.2) -> None:
        """Keys go down together, and come up as long after; nothing waits for the judge."""
        receive = self.listener.receiver(0)
        for pitch in pitches:
            receive((0x90, pitch, 64))
        self.wait(seconds)
        for pitch in pitches:
            receive((0x80, pitch, 0))
        self.wait(0.02)

    def wait(self, seconds: float) -> None:
        self.clock.now += round(seconds * 1e9)

    def music(self) -> None:
        for pitch in SCALE:
            self.strike(pitch)
        self.strike(*CLUSTER)
        self.wait(1.0)

    def end(self) -> None:
        self.listener.end(self.told.append)

    def heard(self) -> list[str]:
        return [r.data.hex() for r in read_journal(self.journal).records if isinstance(r, Heard)]

    def notes(self) -> int:
        """Of the one file, as mido reads it."""
        (file,) = self.folder.glob("*.mid")
        messages = [message for track in mido.MidiFile(file).tracks for message in track]
        return sum(message.type == "note_on" for message in messages)


NOTES = len(SCALE) + len(CLUSTER)


def until(true: Callable[[], object]) -> None:
    end = time.monotonic() + 60
    while not true():
        assert time.monotonic() < end
        time.sleep(0.002)


@contextmanager
def held_up(
    monkeypatch: pytest.MonkeyPatch, after: int = 0, seconds: float | None = None
) -> Iterator[threading.Event]:
    """The judge stands still at each message for so long, or until the event is set, at the latest at the end."""
    going = threading.Event()
    message = Session.message
    seen = 0

    def slowly(self: Session, us: int, source: int, data: bytes) -> tuple[Finding, ...]:
        nonlocal seen
        seen += 1
        if seen > after and self.judged:
            going.wait(seconds)
        return message(self, us, source, data)

    monkeypatch.setattr(Session, "message", slowly)
    try:
        yield going
    finally:
        going.set()


def test_all_is_in_the_journal_while_the_judge_stands_still(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    played = Played(tmp_path)
    with held_up(monkeypatch) as going:
        played.listener.start()
        played.music()
        until(lambda: len(played.heard()) == 2 * NOTES)
        assert played.listener.session.messages == 0
        going.set()
        until(lambda: played.listener.session.messages == 2 * NOTES)
    played.end()
    assert played.told == []
    assert played.notes() == NOTES
    (written,) = played.listener.clerk.written
    assert written.judged_until is None
    # Judged late, but as it was played: that is how the file is judged.
    marks = written.findings
    assert marks == len(of_file(written.data, played.listener.setup)) > 0


@pytest.mark.skipif(not hasattr(signal, "pthread_kill"), reason="no signals to one thread here")
def test_time_goes_on_after_signals(tmp_path: Path) -> None:
    """One may reach the thread that hears while another keeps the interpreter past the end of its wait."""
    played = Played(tmp_path)
    listener = played.listener
    hearing = threading.Thread(target=listener.hearing.run, daemon=True)
    hearing.start()
    assert hearing.ident is not None
    before = signal.signal(signal.SIGUSR1, lambda number, frame: None)
    try:
        for _ in range(30):
            time.sleep(0.013)
            signal.pthread_kill(hearing.ident, signal.SIGUSR1)
            sorted(SHUFFLED)
    finally:
        signal.signal(signal.SIGUSR1, before)
    until(lambda: played.wait(0.01) or listener.hearing.now > 900_000)
    played.end()


def test_what_is_shown_says_of_when_it_is(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The verdict word, the header, and line mode."""
    played = Played(tmp_path)
    listener = played.listener
    with held_up(monkeypatch, after=2 * len(CLUSTER)) as going:
        listener.start()
        played.strike(*CLUSTER)
        until(lambda: listener.session.messages == 2 * len(CLUSTER))
        listener.judging.look(60)
        played.strike(60)
        until(lambda: listener.hearing.messages == 2 * len(CLUSTER) + 2)
        played.wait(2.05)
        until(lambda: listener.behind() > 2_000_000)
        screen = [plain_text(row) for row in dashboard_lines(listener.scene(), 100, 30)]
        assert "BEHIND" in screen[0]
        assert any("UNPLAYABLE as of 0:00" in row for row in screen)
        assert any("judging is 2.3 s behind" in row for row in screen)
        assert not any("so far" in row for row in screen)
        said = [plain_text(row) for row in listener.news_lines()]
        assert "judging is 2.3 s behind; everything is still recorded" in said
        going.set()
        until(lambda: listener.behind() == 0)
        assert "judging has caught up" in [plain_text(row) for row in listener.news_lines()]
        listener.judging.look(60)
        screen = [plain_text(row) for row in dashboard_lines(listener.scene(), 100, 30)]
        assert not any("as of" in row or "BEHIND" in row for row in screen)
    played.end()


def test_at_the_end_a_judge_who_is_behind_is_not_waited_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The file has all notes, with the findings that there are, and says how far they go."""
    played = Played(tmp_path)
    listener = played.listener
    first = 2 * (NOTES + 1)
    with held_up(monkeypatch, after=first, seconds=3):
        listener.start()
        played.music()
        played.strike(72)
        until(lambda: listener.session.messages == first and listener.behind() == 0)
        played.music()
        listener.key("k")
        listener.hearing.command("afresh")
        played.strike(72)
        until(lambda: len(played.heard()) == 2 * first)
        played.end()
        assert any("behind, so the rest is not judged; livepedal check does that" in text for text in played.told)
        assert any(
            "passage you asked to keep is in the file of the whole take" in text for text in played.told
        )
    assert not listener.faults.first
    assert len(played.heard()) == 2 * first
    one, two = sorted(listener.clerk.written, key=lambda written: written.take)
    assert [w.notes for w in (one, two)] == [2 * NOTES + 1, 1]
    assert one.findings == 1
    assert 2.2 < one.judged_until < 4.0
    assert (two.findings, two.judged_until) == (0, 0)
    assert unfinished(tmp_path) == ()
    # It is the file that `recover` makes, but for the findings.
    again = tmp_path / "again"
    recovered = recover(read_journal(played.journal), again)
    assert [w.notes for w in recovered] == [
        one.notes,
        two.notes,
        NOTES + 1,
    ]  # and the passage
    same = [of_file(path.read_bytes(), listener.setup) for path in (one.path, recovered[0].path)]
    assert same[0] == same[1]
    assert len(same[0]) == recovered[0].findings == 2


def test_at_the_end_a_judge_who_does_not_come_back_is_left(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The files are made from the journal, each once, with what was found before that note."""
    played = Played(tmp_path)
    listener = played.listener
    first = 2 * NOTES + 2
    with held_up(monkeypatch, after=2 * first + 2 * NOTES) as going:
        listener.start()
        for _ in range(2):
            played.music()
            played.strike(72)
            until(lambda: listener.hearing.messages % first == 0)
            listener.hearing.command("afresh")
        until(lambda: len(listener.clerk.written) == 2 and listener.behind() == 0)
        played.music()
        played.music()
        listener.hearing.command("afresh")
        played.strike(72)
        played.end()
        assert any("behind, so the rest is not judged; livepedal check does that" in text for text in played.told)
        files = sorted(tmp_path.glob("*.mid"))
        going.set()
        listener._threads["judging"].join(60)
    assert not listener.faults.first
    assert sorted(tmp_path.glob("*.mid")) == files
    assert unfinished(tmp_path) == ()
    *judged, third, fourth = sorted(listener.clerk.written, key=lambda written: written.take)
    assert [(w.notes, w.findings, w.judged_until) for w in judged] == [(NOTES + 1, 1, None)] * 2
    assert [(w.notes, w.findings) for w in (third, fourth)] == [(2 * NOTES, 1), (1, 0)]
    assert 0.9 < third.judged_until < 2.2
    assert fourth.judged_until == 0.0
    recovered = recover(read_journal(played.journal), tmp_path / "again")
    assert [w.notes for w in recovered] == [w.notes for w in (*judged, third, fourth)]


def test_a_file_that_two_ask_for_is_written_once(tmp_path: Path) -> None:
    session = Session(setup_of(HEADER))
    session.message(1_000_000, 0, b"\x90\x3c\x40")
    session.finish(2_000_000)
    (take,) = session.finished
    clerk = Clerk(tmp_path, Faults(tmp_path / "a.journal", print), print)
    clerk.save(take)
    clerk.save(take)
    clerk.end()
    clerk.run()
    assert [saved.take for saved in clerk.written] == [1]


def broken(*_: object, **__: object) -> None:
    raise KeyError("broken")


def test_when_judging_fails_all_is_recorded_and_saved(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    played = Played(tmp_path)
    listener = played.listener
    listener.start()
    played.music()
    until(lambda: listener.session.messages == 2 * NOTES)
    monkeypatch.setattr(BareMonitor, "feed", broken)
    played.music()
    until(lambda: Stage.JUDGING in listener.faults.first)
    assert listener.scene().state == "not judging"
    assert listener.scene().late == "not judged any more"
    said: list[str] = []
    until(lambda: said.extend(map(plain_text, listener.news_lines())) or any("has failed" in s for s in said))
    assert sum("judging has failed (r starts it again); everything is still" in text for text in said) == 1
    played.end()
    assert len(played.heard()) == 4 * NOTES
    assert played.notes() == 2 * NOTES
    assert "in broken" in listener.faults.path.read_text()
    assert listener.faults.path.parent == played.journal.parent
    # `recover` does the same with a journal that cannot be judged.
    (written,) = recover(read_journal(played.journal), tmp_path / "again")
    assert written.notes == 2 * NOTES


def test_judging_that_has_failed_begins_again_with_the_next_take(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The take in which it failed is saved from the journal, the next one as it was judged."""
    played = Played(tmp_path)
    listener = played.listener
    listener.start()
    played.music()
    until(lambda: listener.session.messages == 2 * NOTES)
    with monkeypatch.context() as patch:
        patch.setattr(BareMonitor, "feed", broken)
        played.music()
        until(lambda: listener.session.messages == 4 * NOTES)
        assert listener.scene().state == "not judging"
    played.strike(60)
    until(lambda: listener.session.messages == 4 * NOTES + 2)
    assert listener.scene().state == "not judging"  # a take that has lost something stays so
    listener.key("r")
    until(lambda: listener.session.take.number == 2)
    played.music()
    until(lambda: listener.session.messages == 6 * NOTES + 2)
    until(lambda: not listener.judging.failed)
    assert listener.scene().state != "not judging"
    played.end()
    one, two = sorted(listener.clerk.written, key=lambda written: written.take)
    assert [written.notes for written in (one, two)] == [2 * NOTES + 1, NOTES]
    assert [written.findings for written in (one, two)] == [1, 1]
    assert one.judged_until is not None
    assert two.judged_until is None
    assert two.findings == len(of_file(two.data, listener.setup))


def test_words_that_fail_cost_words_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    played = Played(tmp_path)
    listener = played.listener
    for name in ("finding_line", "passage_line"):
        monkeypatch.setattr(f"livepedal.live.show.{name}", broken)
    listener.start()
    played.music()
    played.music()
    played.end()
    assert set(listener.faults.first) == {Stage.WORDS}
    assert len(listener.chapters) >= 1
    (written,) = listener.clerk.written
    assert (written.notes, written.findings, written.judged_until) == (2 * NOTES, 2, None)
    assert listener.faults.path.read_text().count("Traceback") <= 4
    assert plain.finding_line is not broken


def test_a_file_that_cannot_be_planned_is_written_bare(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(saving, "entry_setting", broken)
    played = Played(tmp_path)
    played.listener.start()
    played.music()
    played.end()
    assert set(played.listener.faults.first) == {Stage.SAVING}
    assert played.notes() == NOTES


def test_a_key_whose_page_fails_ends_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("livepedal.live.show.press", broken)
    played = Played(tmp_path)
    played.listener.start()
    assert played.listener.key("h")
    played.music()
    assert not played.listener.key("q")
    played.end()
    assert played.notes() == NOTES


def test_a_live_note_passes_through_few_modules(tmp_path: Path) -> None:
    """Fewer than twelve from the port's callback to its verdict, what the model needs apart (issue 18)."""
    entered: set[str] = set()

    def watch(frame: FrameType, event: str, _: object) -> None:
        _, package, name = frame.f_code.co_filename.rpartition("/livepedal/")
        on_its_way = watching and threading.current_thread().name in ("port", "livepedal-hearing", "livepedal-judging")
        if on_its_way and package and not name.startswith(("model/", "harp/", "music/attacks")):
            entered.add(name)

    def done(*_: object) -> None:
        nonlocal watching
        watching = False
        judged.set()

    watching, judged = False, threading.Event()
    played = Played(tmp_path)
    played.listener.judging.judged = done
    threading.setprofile(watch)  # type: ignore[arg-type]
    try:
        played.listener.start()
        watching = True
        port = threading.Thread(target=played.listener.receiver(0), args=((0x90, 60, 64),), name="port")
        port.start()
        assert judged.wait(60)
    finally:
        threading.setprofile(None)  # type: ignore[arg-type]
    port.join()
    played.end()
    assert {"live/hearing.py", "sources/journal/writing.py", "live/take.py"} <= entered
    assert len(entered) < 12, entered


# -- Keys and pauses -----------------------------------------------------------------------------------------


def commands(played: Played, word: str) -> list[str]:
    records = read_journal(played.journal).records
    return [r.argument for r in records if isinstance(r, Command) and r.word == word]


def test_quick_presses_of_p_go_round(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each is the next player, however late the judge hears of it."""
    played = Played(tmp_path)
    with held_up(monkeypatch):
        played.listener.start()
        played.strike(60)
        for _ in range(4):
            played.listener.key("p")
        until(lambda: len(commands(played, "player")) == 4)
    played.end()
    assert commands(played, "player") == ["virtuoso", "relaxed", "working", "virtuoso"]
    assert played.listener.session.take.players[-1] == "virtuoso"


def kept(session: Session) -> list[tuple[int, int, int]]:
    return [message[1:] for take in session.finished for message in map(unpacked, take.kept)]


def test_sustain_in_a_pause_is_not_in_the_take(tmp_path: Path) -> None:
    """A pause lets go of pedals as of keys; what they do in it is in the journal alone."""
    session = Session(setup_of(HEADER))
    session.message(0, 0, b"\x90\x3c\x40")
    session.message(10_000, 0, b"\xb0\x40\x7f")
    session.command(20_000, "pause")
    session.message(30_000, 0, b"\xb0\x40\x00")
    session.message(40_000, 0, b"\xb0\x40\x7f")
    session.message(50_000, 0, b"\xb0\x79\x00")
    session.command(60_000, "resume")
    session.message(70_000, 0, b"\x90\x3e\x40")
    session.finish(900_000)
    sustain = [data for status, number, data in kept(session) if (status, number) == (0xB0, 64)]
    assert sustain == [127, 0]
    assert session.ignored["messages while paused"] == 3


@pytest.mark.parametrize("stopped", [True, False])
def test_a_sequencer_that_starts_in_a_pause_begins_a_take_when_it_goes_on(stopped: bool) -> None:
    """Bars are counted by it from there: the pause ends in the middle of its second bar."""
    session = Session(setup_of(HEADER))
    session.message(0, 0, b"\x90\x3c\x40")
    session.message(100_000, 0, b"\x80\x3c\x40")
    session.command(1_000_000, "pause")
    session.message(2_000_000, 0, b"\xfa")
    for pulse in range(6 * 24):
        session.message(2_000_000 + pulse * 500_000 // 24, 0, b"\xf8")
    assert session.take.number == 1
    if stopped:
        session.message(5_000_000, 0, b"\xfc")
    session.command(5_000_000, "resume")
    session.message(5_000_000, 0, b"\x90\x3e\x40")
    assert session.take.number == (1 if stopped else 2)
    if not stopped:
        place = session.take.time_map.place(5_000_000 - session.take._base)
        assert place is not None
        assert (place.bar, int(place.beat)) == (2, 3)


def test_a_message_that_cannot_be_put_into_a_take_leaves_the_journal_to_recover(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    played = Played(tmp_path)
    played.listener.start()
    with monkeypatch.context() as patch:
        patch.setattr(Session, "message", broken)
        played.strike(60)
        until(lambda: Stage.TAKE in played.listener.faults.first)
    played.music()
    played.end()
    assert played.notes() == NOTES
    assert unfinished(tmp_path) == (played.journal,)
    assert sum(written.notes for written in recover(read_journal(played.journal), tmp_path / "again")) == NOTES + 1
