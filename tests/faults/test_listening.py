"""What may happen to a `listen` while it listens: whatever it is, everything played is in the journal, and becomes
a MIDI file at once or with `recover`.
"""

from __future__ import annotations

import os
import random
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from livepedal.advice.check import check_file
from livepedal.cli import main
from livepedal.cli.sessions import new_journal
from livepedal.live.listen import Listener
from livepedal.live.recover import recover
from livepedal.live.setup import setup_of
from livepedal.sources.journal import Header, Heard, JournalWriter, read_journal, unfinished
from tests.cli.terminals import Terminal
from tests.faults.listening import (
    PATIENCE,
    environment,
    heard,
    journals,
    listen,
    notes_in,
    sent,
    stream,
    until,
)

NOTES = 20


def all_saved(out: Path, log: Path, notes: int = NOTES) -> None:
    """Everything that was sent is in the one journal, which is whole, and in the one file."""
    (journal,) = journals(out)
    assert journal.faults == ()
    assert journal.ended
    assert heard(journal) == sent(log)
    (file,) = out.glob("*.mid")
    assert notes_in(file) == notes
    assert not list(out.glob(".*"))


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_a_signal_ends_it_in_order(number: signal.Signals, tmp_path: Path) -> None:
    """With warnings as errors, too."""
    stream(tmp_path / "stream", NOTES)
    out, log = tmp_path / "out", tmp_path / "log"
    env = environment(tmp_path, PYTHONWARNINGS="error", PYTHONDEVMODE="1", LC_ALL="C")
    with listen("--port", "Keys", "--out", str(out), env=env) as process:
        until(lambda: len(sent(log)) == 2 * NOTES, "the notes")
        process.send_signal(number)
        said, complaint = process.communicate(timeout=PATIENCE)
    assert process.returncode == (0 if number == signal.SIGINT else 128 + number)
    assert complaint == ""
    assert "Saved " in said
    all_saved(out, log)


@pytest.mark.slow
def test_killed_at_any_moment_nothing_is_lost(tmp_path: Path) -> None:
    """SIGKILL. What was sent in the last moment may not have been taken out of the queue yet."""
    stream(tmp_path / "stream", 400, gap=2)
    for number in range(4):
        out, log = tmp_path / f"out{number}", tmp_path / f"log{number}"
        with listen("--port", "Keys", "--out", str(out), env=environment(tmp_path, log.name)) as process:
            wanted = random.Random(number).randrange(5, 300)

            def there(out: Path = out, wanted: int = wanted) -> bool:
                return any(path.read_bytes().count(b" m ") >= wanted for path in out.glob("*.journal"))

            until(there, "some notes in the journal")
            process.kill()
            process.communicate(timeout=PATIENCE)
        (path,) = unfinished(out)
        journal = read_journal(path)
        assert journal.faults == ()
        assert heard(journal) == sent(log)[: len(heard(journal))]
        assert len(heard(journal)) >= wanted
        (written,) = recover(journal, out)
        assert notes_in(written.path) == sum(
            data.startswith("90") for data in heard(journal)
        )


@pytest.mark.slow
@pytest.mark.parametrize("where", ["a pipe that nobody reads", "a full disk", "nothing"])
def test_output_that_goes_nowhere_ends_it_but_loses_nothing(where: str, tmp_path: Path) -> None:
    if where == "a full disk" and not Path("/dev/full").exists():
        pytest.skip("no /dev/full here")
    stream(tmp_path / "stream", NOTES)
    out, log = tmp_path / "out", tmp_path / "log"
    arguments = ["--port", "Keys", "--out", str(out), "--rest", "0.2"]
    env = environment(tmp_path)
    if where == "a pipe that nobody reads":
        with listen(*arguments, env=env) as process:
            assert process.stdout is not None
            until(lambda: len(sent(log)) >= 4, "the first notes")
            process.stdout.close()
            assert process.stderr is not None
            complaint = process.stderr.read()
            process.wait(timeout=PATIENCE)
        assert process.returncode == 141
        assert complaint == ""
        (journal,) = journals(out)
        assert heard(journal) == sent(log)[: len(heard(journal))]
        assert len(heard(journal)) >= 4
        assert list(out.glob("*.mid")) or unfinished(out)
    elif where == "a full disk":
        with open("/dev/full", "w") as full, listen(*arguments, env=env, stdout=full) as process:
            _, complaint = process.communicate(timeout=PATIENCE)
        assert process.returncode == 2
        (sentence,) = complaint.splitlines()
        assert "cannot be written (No space left on device)" in sentence
    else:
        with listen(*arguments, env=env, stdout=None, preexec_fn=lambda: os.close(1)) as process:
            until(lambda: len(sent(log)) == 2 * NOTES, "the notes")
            process.send_signal(signal.SIGTERM)
            _, complaint = process.communicate(timeout=PATIENCE)
        assert process.returncode == 143
        assert complaint == ""
        all_saved(out, log)


def test_without_any_standard_stream_the_journal_is_no_stream_either(tmp_path: Path) -> None:
    """Its number would be 0, 1 or 2, and what libraries print would go into it."""
    stream(tmp_path / "stream", NOTES)
    out, log = tmp_path / "out", tmp_path / "log"
    env = environment(tmp_path)
    with listen(
        *("--port", "Keys", "--out", str(out)),
        env=env,
        stdout=None,
        stderr=None,
        preexec_fn=lambda: os.closerange(0, 3),
    ) as process:
        until(lambda: len(sent(log)) == 2 * NOTES, "the notes")
        if Path("/proc/self/fd").exists():
            open_ = {number: os.readlink(f"/proc/{process.pid}/fd/{number}") for number in (0, 1, 2)}
            assert set(open_.values()) == {"/dev/null"}
        process.send_signal(signal.SIGTERM)
        process.wait(timeout=PATIENCE)
    all_saved(out, log)


@pytest.mark.slow
@pytest.mark.parametrize("mode", [(), ("--plain",)])
def test_the_terminal_is_closed(mode: tuple[str, ...], tmp_path: Path) -> None:
    stream(tmp_path / "stream", NOTES)
    out, log = tmp_path / "out", tmp_path / "log"
    arguments = ["listen", *mode, "--port", "Keys", "--out", str(out)]
    with Terminal(*arguments, columns=100, rows=30, **environment(tmp_path)) as terminal:

        def played() -> bool:
            terminal.read()
            return len(sent(log)) == 2 * NOTES

        until(played, "the notes")
        terminal.hang_up()
        terminal.process.wait(timeout=PATIENCE)
        assert terminal.process.returncode == 128 + signal.SIGHUP
    all_saved(out, log)


@pytest.mark.slow
def test_two_at_once_in_one_folder(tmp_path: Path) -> None:
    """In the same second, too: each has a journal and a file of its own, and neither takes the other for remains."""
    stream(tmp_path / "stream", NOTES)
    out = tmp_path / "out"
    both = [
        listen("--port", "Keys", "--out", str(out), env=environment(tmp_path, name))
        for name in ("one", "two")
    ]
    try:
        for name in ("one", "two"):
            until(lambda name=name: len(sent(tmp_path / name)) == 2 * NOTES, "the notes")  # type: ignore[misc]
        said = []
        for process in both:
            process.send_signal(signal.SIGINT)
            text, complaint = process.communicate(timeout=PATIENCE)
            assert (process.returncode, complaint) == (0, "")
            said.append(text)
    finally:
        for process in both:
            process.kill()
            process.wait()
    assert "did not end properly" not in "".join(said)
    found = list(journals(out))
    assert [heard(journal) for journal in found] == [sent(tmp_path / "one")] * 2
    assert all(journal.ended and not journal.faults for journal in found)
    assert len(list(out.glob("*.mid"))) == 2


def test_names_of_journals_are_taken_at_once_and_links_are_not_followed(tmp_path: Path) -> None:
    header = Header("2024-05-01T20:15:00+02:00")
    out, outside = tmp_path / "out", tmp_path / "outside"
    out.mkdir()
    (out / "2024-05-01-201500-2.journal").symlink_to(outside)
    names = [new_journal(out, header).name for _ in range(3)]
    assert names == [f"2024-05-01-201500{more}.journal" for more in ("", "-3", "-4")]
    assert not outside.exists()
    assert unfinished(out) == ()


@pytest.mark.parametrize("replaced", [False, True])
def test_the_folder_is_taken_away_while_it_listens(replaced: bool, tmp_path: Path) -> None:
    """It is made anew; where it cannot be, the music goes into the home folder, which is said."""
    stream(tmp_path / "stream", NOTES)
    out, log = tmp_path / "out", tmp_path / "log"
    with listen("--port", "Keys", "--out", str(out), env=environment(tmp_path)) as process:
        until(lambda: len(sent(log)) >= 4, "the first notes")
        shutil.rmtree(out)
        if replaced:
            out.write_text("no folder")
        until(lambda: len(sent(log)) == 2 * NOTES, "the notes")
        process.send_signal(signal.SIGINT)
        said, complaint = process.communicate(timeout=PATIENCE)
    assert (process.returncode, complaint) == (0, "")
    (file,) = (tmp_path / "home" if replaced else out).glob("*.mid")
    assert f"Saved {file} " in said
    assert (f"Nothing more could be written in {out}" in said) is replaced
    assert notes_in(file) == NOTES


class Clock:
    """Nanoseconds, set by hand."""

    now = 5_000_000_000

    def __call__(self) -> int:
        return self.now


@pytest.mark.parametrize("back", [1, 700_000_000, 3_600_000_000_000])
def test_the_clock_steps_back(back: int, tmp_path: Path) -> None:
    """The clock is one that cannot; but a suspended or virtual machine has been seen to. Time stands still then,
    and what was played before and after is there.
    """
    clock = Clock()
    path = tmp_path / "one.journal"
    header = Header("2024-05-01T20:15:00")
    listener = Listener(
        setup_of(header), JournalWriter(path, header), tmp_path, clock=clock, advises=False
    )
    listener.start()
    hear = listener.receiver(0)
    for number in range(12):
        clock.now += 300_000_000
        if number == 6:
            time.sleep(0.2)  # what came before has been judged
            clock.now -= back
        pitch = 60 + number % 3
        hear([0x90, pitch, 64])
        clock.now += 100_000_000
        hear([0x80, pitch, 64])
    listener.end()
    assert not listener.faults.first
    assert listener.clerk.failed == []
    journal = read_journal(path)
    times = [record.us for record in journal.records]
    assert times == sorted(times)
    assert sum(isinstance(record, Heard) for record in journal.records) == 24
    (written,) = listener.clerk.written
    assert check_file(written.path).files[0].parts[0].notes == 12


@pytest.mark.slow
def test_no_place_for_the_journal_is_one_sentence(tmp_path: Path) -> None:
    """A folder that cannot be made, for want of a home or of permission."""
    stream(tmp_path / "stream", 1)
    (tmp_path / "file").write_text("no folder")
    for more in ({"HOME": "/proc/nobody"}, {"HOME": "/proc/nobody", "LC_ALL": "C"}):
        env = environment(tmp_path, **more)
        del env["XDG_CONFIG_HOME"]
        with listen("--port", "Keys", env=env) as process:
            said, complaint = process.communicate(timeout=PATIENCE)
        assert process.returncode == 2
        (sentence,) = complaint.splitlines()
        assert "--out" in sentence
    for out in (tmp_path / "file", tmp_path / "file" / "in it"):
        with listen("--port", "Keys", "--out", str(out), env=environment(tmp_path)) as process:
            said, complaint = process.communicate(timeout=PATIENCE)
        assert process.returncode == 2
        (sentence,) = complaint.splitlines()
        assert "--out" in sentence
        assert said == ""


def test_recover_into_a_folder_that_cannot_be_written_keeps_the_journal_for_next_time(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "2024-05-01-201500.journal"
    writer = JournalWriter(path, Header("2024-05-01T20:15:00"))
    writer.write(Heard(1_000_000, 0, b"\x90\x3c\x40"))
    writer.close()
    (tmp_path / "file").write_text("no folder")
    assert main(["recover", str(path), "--out", str(tmp_path / "file" / "in it")]) == 2
    (sentence,) = capsys.readouterr().err.splitlines()
    assert "--out" in sentence
    assert unfinished(tmp_path) == (path,)
    assert main(["recover", str(tmp_path)]) == 0
    assert (tmp_path / "2024-05-01-201500.mid").exists()


@pytest.mark.slow
def test_ports_with_names_that_would_act(tmp_path: Path) -> None:
    stream(tmp_path / "stream", 3)
    log = tmp_path / "log"
    evil = "Keys [red]\x1b[41m\u202e\x07 20:0"
    env = environment(tmp_path, PORTS=evil)
    done = subprocess.run(
        [*_COMMAND, "ports"], env=env, capture_output=True, text=True, encoding="utf-8", timeout=PATIENCE
    )
    assert done.returncode == 0
    out = tmp_path / "[red]\x1b[41m\u202e"
    with listen("--port", "Keys", "--out", str(out), env=env) as process:
        until(lambda: len(sent(log)) == 6, "the notes")
        process.send_signal(signal.SIGINT)
        said, complaint = process.communicate(timeout=PATIENCE)
    assert (process.returncode, complaint) == (0, "")
    for text in (done.stdout, said):
        assert "[red]" in text
        assert all(line.isprintable() for line in text.splitlines())
    with Terminal(
        *("listen", "--port", "Keys", "--out", str(tmp_path / "more")), columns=100, rows=30, **env
    ) as terminal:
        terminal.until("q quit", "[red]")
        terminal.until("passage over")
        terminal.type(b"q")
        assert terminal.end() == 0
        for act in (b"\x1b[41m", b"\x07", "\u202e".encode()):
            assert act not in terminal.raw


_COMMAND = [sys.executable, "-m", "livepedal"]
