"""Keys while listening: what they ask for goes through the journal, and drawing can do no harm."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from livepedal import check_file
from livepedal.harp import Setting
from livepedal.live.listen import Listener
from livepedal.live.recover import played_again
from livepedal.live.setup import setup_of
from livepedal.sources.journal import Command, Header, JournalWriter, read_journal
from livepedal.views.dashboard import terminal
from livepedal.views.dashboard.desk import Panel
from livepedal.views.dashboard.screen import dashboard_lines
from livepedal.views.lines import plain_text
from tests.views.ptys import Pty

STARTED = "2024-05-01T20:15:00+02:00"
ON, OFF = (0x90, 67, 64), (0x80, 67, 0)


class Clock:
    """Nanoseconds, set by hand: how quick the machine is makes no difference to what is played."""

    now = 5_000_000_000

    def __call__(self) -> int:
        return self.now

    def goes_on(self) -> None:
        self.now += 20_000_000


def listener(folder: Path, clock: Clock | None = None, **header: object) -> Listener:
    made = Header(STARTED, **header)  # type: ignore[arg-type]
    journal = JournalWriter(folder / "a.journal", made)
    one = Listener(setup_of(made), journal, folder, clock=clock or Clock())
    one.start()
    one.goes_on()  # somebody draws
    return one


def until(true: Callable[[], object]) -> None:
    end = time.monotonic() + 60
    while not true():
        assert time.monotonic() < end
        time.sleep(0.005)


def commands(folder: Path) -> list[str]:
    records = read_journal(folder / "a.journal").records
    return [f"{one.word} {one.argument}".strip() for one in records if isinstance(one, Command)]


def test_every_command_is_in_the_journal(tmp_path: Path) -> None:
    one = listener(tmp_path)
    receive = one.receiver(0)
    receive(ON)
    receive(OFF)
    for key in "tkpr":
        assert one.key(key)
    for key in ["s", *"Eb", "\r"]:
        assert one.key(key)
    until(lambda: one.session.take.number == 3)
    assert str(one.session.take.setup.setting) == "D♮ C♮ B♭ | E♭ F♮ G♮ A♭"
    assert one.key(" ")
    until(lambda: one.session.paused)
    assert one.key(" ")
    until(lambda: not one.session.paused)
    assert not one.key("q")
    one.end()
    wanted = ["tap", "keep", "player virtuoso", "afresh", "pedals D♮ C♮ B♭ | E♭ F♮ G♮ A♭", "pause", "resume"]
    assert [word for word in commands(tmp_path) if not word.startswith("end")] == wanted


def test_what_is_played_in_a_pause_is_recorded_and_not_judged(tmp_path: Path) -> None:
    one = listener(tmp_path)
    receive = one.receiver(0)
    receive(ON)
    one.key(" ")
    until(lambda: one.session.paused)
    assert one.session.take.monitor.keys.down == ()  # let go
    until(lambda: one.goes_on() and one.scene().state == "paused")
    assert "not judged, and only in the journal" in one.scene().details
    receive(OFF)
    receive((0x90, 68, 64))
    receive((0x80, 68, 0))
    until(lambda: one.session.messages == 4)
    one.key(" ")
    until(lambda: not one.session.paused)
    receive((0x90, 69, 64))
    until(lambda: one.session.take.notes == 2)
    one.end()
    journal = read_journal(tmp_path / "a.journal")
    again = played_again(journal.records, setup_of(journal.header))
    assert [take.notes for take in again.finished] == [2]
    (written,) = one.clerk.written
    assert written.notes == 2


def test_set_pedals_start_a_take_that_its_file_is_judged_with(tmp_path: Path) -> None:
    one = listener(tmp_path)
    receive = one.receiver(0)
    for key in ["s", *"C major", "\r"]:
        one.key(key)
    receive((0x90, 66, 64))  # F♯ at once: all pedals stand at ♮ and nothing can be moved in time
    receive((0x80, 66, 0))
    one.end()
    (written,) = one.clerk.written
    assert written.start == "D♮ C♮ B♮ | E♮ F♮ G♮ A♮"
    assert written.findings == 1
    report = check_file(written.path, start=Setting.parse(written.start))
    assert [len(part.findings) for part in report.files[0].parts] == [1]


def test_lines_that_are_typed(tmp_path: Path) -> None:
    """In line mode each key that does something says so, and what does nothing is said too."""
    made = Header(STARTED)
    one = Listener(setup_of(made), JournalWriter(tmp_path / "a.journal", made), tmp_path)
    one.start()

    def told(typed: str) -> str:
        assert one.typed(typed)
        said: list[str] = []
        until(lambda: bool(said.extend(map(plain_text, one.news_lines())) or said))
        (only,) = said
        return only

    assert told(" ").startswith("paused: not judged, and only in the journal")
    assert told(" ").startswith("continuing")
    assert told("k") == "there is no passage to keep yet"
    assert told("t").startswith("tapped once")
    assert told("p") == "judged for the virtuoso player from now on"
    assert told("r").startswith("new start")
    assert told("s Eb major").startswith("the pedals are set to D♮ C♮ B♭ | E♭ F♮ G♮ A♭;")
    assert told("s").startswith("type a setting or a key")
    assert told("Ab major").startswith("the pedals are set to D♭ C♮ B♭ | E♭ F♮ G♮ A♭;")
    assert told("s").startswith("type a setting or a key")
    assert told("") == "the pedals are unchanged"
    assert "'no' is neither a setting nor a key" in told("s no")
    for nothing in ("Eb major", "h", "i", "?", "k!"):
        assert told(nothing).startswith(f"{nothing} does nothing; the keys are: space pause, k keep")
    assert one.desk.page is Panel.NOW
    assert one.typed("")
    assert not one.typed("q")
    one.end()
    wanted = ["pause", "resume", "keep", "tap", "player virtuoso", "afresh"]
    wanted += ["pedals D♮ C♮ B♭ | E♭ F♮ G♮ A♭", "pedals D♭ C♮ B♭ | E♭ F♮ G♮ A♭"]
    assert [word for word in commands(tmp_path) if not word.startswith("end")] == wanted


def test_passages_are_there_to_look_back_on(tmp_path: Path) -> None:
    clock = Clock()
    one = listener(tmp_path, clock, rest=100_000)
    receive = one.receiver(0)
    for pitch in (67, 68, 69):  # G, G♯, A within a moment: nobody can
        receive((0x90, pitch, 64))
        receive((0x80, pitch, 0))
    until(lambda: clock.goes_on() or len(one.chapters) == 1)
    (chapter,) = one.chapters
    assert chapter.findings
    one.key("h")
    scene = one.scene()
    assert scene.desk.page is Panel.PASSAGES
    assert scene.chapters == (chapter,)
    one.key("i")
    assert any("Messages so far" in line for line in one.scene().input)
    one.end()


def test_all_that_is_not_judged_is_listed(tmp_path: Path) -> None:
    one = listener(tmp_path)
    receive = one.receiver(0)
    odd = [
        (0xFE,),
        (0xF8,),
        (0xE0, 1, 2),
        (0xD0, 1),
        (0xA0, 60, 1),
        (0xC0, 1),
        (0xB0, 1, 1),
        (0x99, 60, 9),
        (0x80, 60, 0),
    ]
    for number, message in enumerate(odd, start=1):
        for _ in range(number):
            receive(message)
    until(lambda: one.session.messages == sum(range(1, len(odd) + 1)))
    one.key("i")
    kinds = one.session.ignored
    assert len(kinds) > 5

    def listed() -> bool:
        one.goes_on()
        said = " ".join(one.scene().input)
        return all(f"{kind} {count}" in said for kind, count in kinds.items())

    until(listed)
    one.end()


def test_faults_in_drawing_stop_neither_journal_nor_model(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    clock = Clock()
    one = listener(tmp_path, clock)
    monkeypatch.setattr(terminal, "dashboard_lines", lambda *_: 1 / 0)
    receive = one.receiver(0)

    def play() -> None:
        for _ in range(20):
            for message in (ON, OFF):
                receive(message)
                clock.goes_on()
                time.sleep(0.01)
        one._over.set()

    with Pty(80, 24) as pty:
        player = threading.Thread(target=play)
        player.start()
        terminal.run(one, pty.console)
        player.join()
        pty.rows()
        assert "cannot be drawn (ZeroDivisionError)" in pty.raw.decode()
    one._over.clear()
    one.end()
    assert not one.faults.first
    assert one.session.messages == 40
    assert (
        sum(1 for record in read_journal(tmp_path / "a.journal").records if not isinstance(record, Command))
        == 40
    )
    (written,) = one.clerk.written
    assert written.notes == 20


def test_the_lamp_is_lit_by_any_message_and_the_last_note_has_a_source(tmp_path: Path) -> None:
    clock = Clock()
    one = listener(tmp_path, clock)
    one.plugged.name(0, "alto")
    one.plugged.name(1, "bass")
    assert plain_text(dashboard_lines(one.scene(), 80, 24)[0]).startswith("   alto, bass ")
    one.receiver(1)(ON)
    one.receiver(0)((0xFE,))  # active sensing, which no note is
    assert plain_text(dashboard_lines(one.scene(), 80, 24)[0]).startswith(" █ alto, bass ")
    assert one.input()[0] == "Inputs: alto; bass, source of the last note"
    until(lambda: clock.goes_on() or not one.hearing.lit())
    one.end()
