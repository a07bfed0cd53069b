"""Live listening through real ports: a JACK server, `livepedal listen` and a keyboard, each a process of its
own.
"""

from __future__ import annotations

import os
import random
import re
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import mido
import pytest

from livepedal.advice.check import check_file
from livepedal.live.recover import recover
from livepedal.music.song import read_song
from livepedal.sources.journal import Command, Heard, Word, read_journal, unfinished
from livepedal.sources.ports.libraries import quiet
from livepedal.sources.ports.system import Inputs
from livepedal.views.plain import finding_line
from livepedal.views.signs import signs_for
from tests.benchmarks.kill import WRITTEN, kill
from tests.cli.terminals import Terminal
from tests.faults.listening import notes_in
from tests.live.jack import (
    PATIENCE,
    TRIES,
    Listener,
    Server,
    came_late,
    end_all,
    go,
    heard,
    on_time,
    played_on_time,
    send,
    until,
)
from tests.places import RECORDINGS

pytestmark = pytest.mark.slow  # they play in real time

PLAIN = signs_for("utf-8", True)
# Where JACK is required, in CI, everything is tried in full; elsewhere the long tests are cut short.
IN_FULL = os.environ.get("LIVEPEDAL_REQUIRE_JACK") == "1"
KILLS = 10 if IN_FULL else 4
MESSAGES = 10_000 if IN_FULL else 3_000


def livepedal(server: Server, *arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "livepedal", *arguments],
        env=server.environment,
        capture_output=True,
        encoding="utf-8",
        timeout=2 * PATIENCE,
        check=False,
    )


def checked(
    path: Path, bars: bool = False, only: tuple[str, ...] = ("pedals", "hands", "strings")
) -> list[str]:
    """The findings of a file in the words of line mode; without those of the layer load, which needs to look ahead."""
    part = check_file(path, only=only).files[0].parts[0]
    return [finding_line(finding, part.time_map if bars else None, PLAIN) for finding in part.findings]


def only(folder: Path, ending: str) -> Path:
    (path,) = folder.glob(f"*{ending}")
    return path


def rehearse(
    server: Server, recording: str, folder: Path, speed: str, *arguments: str
) -> tuple[list[str], list[str]]:
    """Play a recording into `listen`; the findings that it printed and those of the file that it saved."""
    folder.mkdir()
    log = folder / "log"
    with Listener(server, "--virtual", "--out", str(folder), *arguments) as listener:
        assert send(server, listener.port, log, "file", str(RECORDINGS / recording), speed).wait(300) == 0
        listener.until_heard(log)
        listener.end()
        assert heard(only(folder, ".journal")) == log.read_text().split()
        return listener.findings(), checked(only(folder, ".mid"), bars=bool(arguments))


def test_recording_in_real_time(server: Server, tmp_path: Path) -> None:
    """The file saved gives the findings that were printed live, word for word, with bars and beats."""
    live, file = rehearse(server, "03-paddle-wheel.mid", tmp_path / "out", "1", "--tempo", "100")
    assert live == file
    assert live
    assert "bar" in live[0]


def test_all_other_recordings_at_four_times_the_speed(
    server: Server, own_server: Server, tmp_path: Path
) -> None:
    """Two at a time, each with a server, a listener and a keyboard of its own."""
    names = sorted(path.name for path in RECORDINGS.glob("*.mid"))
    assert len(names) == 15
    names.remove("03-paddle-wheel.mid")
    names = names if IN_FULL else names[::3]

    def half(one: Server, its: list[str]) -> list[tuple[list[str], list[str]]]:
        return [rehearse(one, name, tmp_path / name, "4") for name in its]

    with ThreadPoolExecutor(2) as pool:
        first, second = pool.map(half, (server, own_server), (names[::2], names[1::2]))
    results = dict(zip(names[::2] + names[1::2], first + second, strict=True))
    for name, (live, file) in results.items():
        assert live == file, name
    assert sum(len(live) for live, _ in results.values()) > len(names)


def test_what_is_played_goes_on_is_answered_and_heard_again(
    server: Server, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By one output: all that is played, unchanged and in order; an answer to what is unplayable; then the passage once
    more. Nothing is left on.
    """
    monkeypatch.setenv("JACK_DEFAULT_SERVER", server.name)
    before, log, went = server.ports(), tmp_path / "log", []
    with quiet():
        ear = Inputs("jack")
        ear.open(0, None, lambda data, delta: went.append(bytes(data).hex()))
    (name,) = (port for port in server.ports() - before if port.endswith(":livepedal"))
    to_ear = [word for option in ("--through", "--answer", "--output") for word in (option, name)]
    try:
        listed = livepedal(server, "ports").stdout
        assert f"MIDI outputs (JACK):\n  1. {name}\n" in listed
        with Listener(server, "--virtual", *to_ear, "--rest", "0.4", "--out", str(tmp_path)) as listener:
            send(server, listener.port, log, "odd").wait(300)
            for _ in range(TRIES):  # until enough of it was on time
                listener.until_over(server, log, RECORDINGS / "03-paddle-wheel.mid", "4")
                *_, attacks = re.findall(r": passage over, (\d+) attacks?: ", listener.text())
                if int(attacks) > 10 and "994d64" in went:
                    break
            played = log.read_text().split()
            assert [data for data in went if data[1] != "9" or data in played] == played
            assert "994d64" in went
            del went[:]
            listener.type("a\n")
            listener.until("as it was played")
            until(lambda: len(_struck(went)) > 5, "the passage again")
            records = on_time(read_journal(only(tmp_path, ".journal")).records)
            heard_on_time = _struck(
                record.data.hex() for record in records if isinstance(record, Heard) and record.data[0] != 0x99
            )
            assert any(heard_on_time[at : at + 5] == _struck(went)[:5] for at in range(len(heard_on_time)))
            listener.end()
        on: set[str] = set()
        for data in went:
            on = on | {data[1:4]} if data[0] == "9" else on - {data[1:4]}
        assert not on
    finally:
        ear.close()


def _struck(messages: Iterable[str]) -> list[str]:
    """The notes that are struck, on whatever channel: pitch and velocity."""
    return [data[2:] for data in messages if data[0] == "9" and data[4:] != "00"]


def test_kept_passage_and_takes(server: Server, tmp_path: Path) -> None:
    """Keys through a pipe: k keeps the passage, r starts afresh, q ends; three files, none over another."""
    log = tmp_path / "log"
    with Listener(server, "--virtual", "--out", str(tmp_path), "--rest", "0.4") as listener:
        for key, answer in (("k", "saved "), ("r", "new start"), ("q", "")):
            listener.until_over(server, log, RECORDINGS / "12-moored.mid", "8")
            listener.type(f"{key}\n")
            listener.until(answer)
        text = listener.text() + listener.process.communicate(timeout=PATIENCE)[0].decode()
    assert listener.process.returncode == 0
    files = sorted(path.name.partition("-take")[2] or path.name[17:] for path in tmp_path.glob("*.mid"))
    # A machine that stands still makes two passages of one.
    assert [re.sub(r"\d+\.mid", "N.mid", name) for name in files] == ["-N.mid", "-passage-N.mid", ".mid"]
    assert text.count("Saved ") == 3


def test_stopped_and_continued(server: Server, tmp_path: Path) -> None:
    """Ctrl-Z and fg in the middle of the music. JACK does not tell when it was played what came meanwhile: it is in the
    journal and in the file, and neither is it judged live nor in the file.
    """
    log = tmp_path / "log"
    with Listener(server, "--virtual", "--out", str(tmp_path)) as listener:
        sender = send(server, listener.port, log, "file", str(RECORDINGS / "03-paddle-wheel.mid"), "1")
        until(lambda: len(listener.heard()) > 10, "the first notes")
        listener.process.send_signal(signal.SIGSTOP)
        time.sleep(0.6)  # long enough to be noticed
        stopped = len(log.read_text().split())
        until(lambda: len(log.read_text().split()) > stopped + 8, "notes that nobody takes")
        listener.process.send_signal(signal.SIGCONT)
        listener.until("came late after livepedal was suspended for ")
        assert sender.wait(300) == 0
        listener.until_heard(log)
        text = listener.end()
    assert "on a muted track" in text
    assert heard(only(tmp_path, ".journal")) == log.read_text().split()
    assert listener.findings() == checked(only(tmp_path, ".mid"))
    harp, late = [track.notes for track in read_song(only(tmp_path, ".mid")).tracks[1:]]
    assert late == sum(int(number) for number in re.findall(r"(\d+) notes? came late", text)) > 0
    assert harp + late == sum(data.startswith("9") and data[4:] != "00" for data in log.read_text().split())


# -- Things that go away -------------------------------------------------------------------------------------


def test_keyboard_unplugged_and_back(server: Server, tmp_path: Path) -> None:
    """A keyboard whose port goes away lets go of its keys; when it is back it is heard again, without being
    asked.
    """
    log = tmp_path / "log"
    sender = send(server, "-", log, "hold", "60", "64", client="grand")
    with Listener(server, "--port", "grand", "--out", str(tmp_path)) as listener:
        listener.until("Listening")
        go(sender)
        listener.until_down(log, {60, 64}, sender)
        end_all(sender)
        listener.until("was disconnected")
        listener.until(": passage over, ")  # closes after a rest, and with a key down there is none
        again = send(server, "-", log, "flood", "400", "400", client="grand")
        listener.until("is back")
        go(again)
        again.wait()
        listener.until_heard(log)
        listener.end()
    assert heard(only(tmp_path, ".journal")) == log.read_text().split()
    assert let_go(tmp_path) == {60, 64}


def let_go(folder: Path) -> set[int]:
    """The keys that come up in the file when a port goes, as the journal has it."""
    records = read_journal(only(folder, ".journal")).records
    start = next(record.us for record in records if isinstance(record, Heard))
    gone = next(record.us for record in records if isinstance(record, Command) and record.word == Word.GONE)
    keys, us = set(), 0.0
    for message in mido.MidiFile(only(folder, ".mid")):
        us += message.time * 1e6
        if message.type == "note_off" and abs(us - (gone - start)) < 2_000:  # a tick is half a millisecond
            keys.add(message.note)
    return keys


def test_of_two_keyboards_one_is_unplugged(server: Server, tmp_path: Path) -> None:
    """Only the keys of the one that was disconnected come up: in the file the other's sound on until the end."""
    log = tmp_path / "log"
    grand = send(server, "-", log, "hold", "60", client="grand")
    spinet = send(server, "-", log, "hold", "64", client="spinet")
    with Listener(server, "--port", "grand", "--port", "spinet", "--out", str(tmp_path)) as listener:
        listener.until("Listening to grand:out, spinet:out")
        for keyboard in (grand, spinet):
            go(keyboard)
        listener.until_down(log, {60, 64}, grand, spinet)
        end_all(grand)
        listener.until("grand:out was disconnected")
        time.sleep(1.0)
        listener.end()
    end_all(spinet)
    gone = [r for r in read_journal(only(tmp_path, ".journal")).records if isinstance(r, Command)]
    assert [r.argument for r in gone if r.word == "gone"] == ["0"]
    assert let_go(tmp_path) == {60}
    seconds, released = 0.0, {}
    for message in mido.MidiFile(only(tmp_path, ".mid")):
        seconds += message.time
        if message.type == "note_off":
            released[message.note] = seconds
    assert released[64] == seconds


def test_sequencer_killed_and_restarted(server: Server, tmp_path: Path) -> None:
    """Into a virtual port: held keys are let go of when it is noticed, and the next sender is heard."""
    log = tmp_path / "log"
    with Listener(server, "--virtual", "--out", str(tmp_path)) as listener:
        sender = send(server, listener.port, log, "hold", "60", "64")
        listener.until_down(log, {60, 64}, sender)
        end_all(sender)
        listener.until("was disconnected")
        listener.until(": passage over, ")
        send(server, listener.port, log, "file", str(RECORDINGS / "12-moored.mid"), "8").wait(300)
        listener.until_heard(log)
        listener.end()
    assert heard(only(tmp_path, ".journal")) == log.read_text().split()
    assert let_go(tmp_path) == {60, 64}


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGKILL])
def test_server_killed_and_restarted(own_server: Server, tmp_path: Path, number: signal.Signals) -> None:
    log = tmp_path / "log"
    with Listener(own_server, "--virtual", "--out", str(tmp_path)) as listener:
        sender = send(own_server, listener.port, log, "hold", "60")
        until(lambda: len(listener.heard()) == 1, "a note")
        own_server.end(number)
        end_all(sender)
        listener.until("server stopped")
        own_server.start()
        listener.until("server is back")
        until(lambda: any(name.endswith(":livepedal") for name in own_server.ports()), "the port again")
        send(own_server, listener.port, log, "file", str(RECORDINGS / "12-moored.mid"), "8").wait(300)
        listener.until_heard(log)
        listener.end()
    assert heard(only(tmp_path, ".journal")) == log.read_text().split()


def test_killed_in_the_middle_of_a_passage(own_server: Server, tmp_path: Path) -> None:
    """SIGKILL at random moments: the journal is what the sender had sent up to there, and no finding is lost. (Of the
    feet alone: what is said of the hands may be taken back, and the kill may come in between.)
    """
    findings = 0
    for number in range(KILLS):
        chance = random.Random(number)
        folder = tmp_path / str(number)
        folder.mkdir()
        log = folder / "log"
        with Listener(own_server, "--virtual", "--only", "pedals", "--out", str(folder)) as listener:
            recording = str(RECORDINGS / "14-engine-bells.mid")
            sender = send(own_server, listener.port, log, "file", recording, "4")
            wanted = chance.randrange(6, 60)
            until(lambda wanted=wanted: len(listener.heard()) >= wanted, "the music")  # type: ignore[misc]
            if number == 0:
                listener.until(": unplayable: ")
            listener.kill()
            end_all(sender)
            printed = listener.findings()
        # The server would be held up by each client that was killed.
        own_server.end(signal.SIGKILL)
        own_server.start()
        (path,) = unfinished(folder)
        written = recover(read_journal(path), folder)
        found = heard(path)
        assert found == log.read_text().split()[: len(found)]
        assert printed == checked(written[0].path, only=("pedals",))[: len(printed)]
        assert unfinished(folder) == ()
        assert len(found) >= wanted
        findings += len(printed)
    assert findings


@pytest.mark.parametrize("judge", ["sleep", "spin"])
def test_killed_while_the_judge_is_busy(own_server: Server, tmp_path: Path, judge: str) -> None:
    """With the first note the judge sleeps, or keeps the interpreter busy, for a minute; SIGKILL at random moments.
    What a port hands over is in the journal meanwhile, and becomes a file, but for what has only just arrived
    (tests/benchmarks/kill.py measures how little that is).
    """
    for number in range(KILLS // 2):
        folder = tmp_path / str(number)
        killed = kill(own_server, folder, judge, random.Random(number))
        assert killed.faults == ()
        assert killed.journaled == killed.arrived[: len(killed.journaled)]
        assert len(killed.journaled) >= WRITTEN
        (path,) = unfinished(folder)
        (written,) = recover(read_journal(path), folder)
        assert written.notes + written.late == sum(data.startswith("90") for data in killed.journaled)


def test_next_start_finds_the_remains(own_server: Server, tmp_path: Path) -> None:
    log = tmp_path / "log"
    with Listener(own_server, "--virtual", "--out", str(tmp_path)) as listener:
        send(own_server, listener.port, log, "file", str(RECORDINGS / "12-moored.mid"), "8").wait(300)
        listener.until_heard(log)
        listener.kill()
    own_server.end(signal.SIGKILL)
    own_server.start()
    with Listener(own_server, "--virtual", "--out", str(tmp_path)) as listener:
        listener.until(f"livepedal recover {tmp_path}")
        # The one that is being written now is no remains.
        assert livepedal(own_server, "recover", str(tmp_path)).stdout.count("Saved ") == 1
        listener.end()
    with Listener(own_server, "--virtual", "--out", str(tmp_path)) as listener:
        listener.until("Everything is recorded")
        assert "did not end properly" not in listener.end()


# -- The disk ------------------------------------------------------------------------------------------------


def full(
    monkeypatch: pytest.MonkeyPatch, server: Server, folder: Path, recording: str, limit: int | None
) -> None:
    log, home = folder.parent / "log", folder.parent / "home"
    monkeypatch.setitem(server.environment, "HOME", str(home))
    with Listener(server, "--virtual", "--out", str(folder), limit=limit) as listener:
        sender = send(server, listener.port, log, "file", str(RECORDINGS / recording), "2")
        listener.until("the journal cannot be written")
        sender.wait()
        # Told while the music was still playing: the passage, the only one, is told to be over after its last note.
        until(
            lambda: ": passage over, " in listener.text().partition("cannot be written")[2], "the passage over"
        )
        listener.process.send_signal(signal.SIGINT)
        text = listener.text() + listener.process.communicate(timeout=PATIENCE)[0].decode()
    assert listener.process.returncode == 0
    assert "is not complete, because the disk took no more; the MIDI file has everything" in text
    (file,) = (*folder.glob("*.mid"), *home.glob("*.mid"))
    struck = sum(line.startswith("9") for line in log.read_text().split())
    assert notes_in(file) == struck
    assert heard(only(folder, ".journal")) == log.read_text().split()[: len(heard(only(folder, ".journal")))]


def test_no_room_for_the_journal(
    server: Server, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A limit on the size of files stands for the disk; the file that is saved is smaller than the journal."""
    full(monkeypatch, server, tmp_path / "out", "03-paddle-wheel.mid", 2000)


def test_full_disk(server: Server, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A disk of 16 KB, nearly full before: a small tmpfs, where it can be mounted."""
    disk = tmp_path / "disk"
    disk.mkdir()
    if shutil.which("mount") is None or os.geteuid() != 0:
        pytest.skip("only root can mount a tmpfs")
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=16k", "tmpfs", str(disk)], capture_output=True, check=False
    )
    if mounted.returncode:
        pytest.skip("a tmpfs cannot be mounted here")
    try:
        (disk / "other").write_bytes(bytes(10_000))
        full(monkeypatch, server, disk, "11-weir.mid", None)
    finally:
        subprocess.run(["umount", "-l", str(disk)], check=True)


# -- Streams -------------------------------------------------------------------------------------------------


def test_flood_of_500_messages_a_second(server: Server, tmp_path: Path) -> None:
    """Of ten thousand none is lost on the way, in the journal, or in the file."""
    log = tmp_path / "log"
    with Listener(server, "--virtual", "--out", str(tmp_path)) as listener:
        sender = send(server, listener.port, log, "flood", str(MESSAGES), "500")
        assert sender.wait(300) == 0
        listener.until_heard(log)
        listener.end()
    assert heard(only(tmp_path, ".journal")) == log.read_text().split()
    assert len(log.read_text().split()) == MESSAGES
    assert notes_in(only(tmp_path, ".mid")) == MESSAGES // 2


def test_odd_streams(server: Server, tmp_path: Path) -> None:
    """Floods of clock and active sensing, a dump of 2,000 bytes, sixteen channels at once, panic."""
    log = tmp_path / "log"
    with Listener(server, "--virtual", "--out", str(tmp_path)) as listener:
        assert send(server, listener.port, log, "odd").wait(300) == 0
        listener.until_heard(log)
        text = listener.end()
    for told in (
        "clock 500",
        "active sensing 50",
        "system exclusive 1",
        "pitch bend 1",
        "aftertouch 1",
        "drums (channel 10)",
    ):
        assert told in text
    assert "note-offs without a note 1" in text or came_late(tmp_path)  # a late one is in the file
    assert notes_in(only(tmp_path, ".mid")) == 16
    assert len(heard(only(tmp_path, ".journal"))) == len(log.read_text().split())


# -- The commands --------------------------------------------------------------------------------------------


def test_ports_lists_inputs(server: Server, tmp_path: Path) -> None:
    sender = send(server, "-", tmp_path / "log", "hold", "60", client="spinet")
    done = livepedal(server, "ports")
    ambiguous = send(server, "-", tmp_path / "log2", "hold", "60", client="spinet-2")
    several = livepedal(server, "listen", "--port", "spinet", "--out", str(tmp_path))
    none = livepedal(server, "listen", "--port", "clavichord", "--out", str(tmp_path))
    unsaid = livepedal(server, "listen", "--out", str(tmp_path), "--forget")
    end_all(sender, ambiguous)
    assert (done.returncode, done.stderr) == (0, "")
    assert "MIDI inputs (JACK):" in done.stdout
    assert "spinet:out" in done.stdout
    assert several.returncode == none.returncode == unsaid.returncode == 2
    assert "spinet:out; spinet-2:out" in several.stderr
    assert "clavichord" in none.stderr
    assert "--port" in unsaid.stderr


def test_port_chosen_by_number(server: Server, tmp_path: Path) -> None:
    """Of several inputs the one is heard whose number is typed; nonsense is asked again."""
    senders = [send(server, "-", tmp_path / name, "hold", "60", client=name) for name in ("alto", "bass")]
    try:
        with Terminal(
            "listen",
            "--plain",
            "--out",
            str(tmp_path / "out"),
            JACK_DEFAULT_SERVER=server.name,
            XDG_CONFIG_HOME=str(tmp_path),
        ) as terminal:
            terminal.until("1. alto:out", "2. bass:out", "1 to 2?")
            terminal.type(b"3\n")
            terminal.until("3 is not an answer; type numbers from 1 to 2, or all.")
            terminal.type(b"2\n")
            terminal.until("Listening to bass:out")
            go(senders[1])
            terminal.type(b"q\n")
            assert terminal.end() == 0
    finally:
        end_all(*senders)


def test_keyboards_that_come_and_go_are_told_all_the_time(own_server: Server, tmp_path: Path) -> None:
    """Without a server and then without a keyboard it is waited for one; of two, all are chosen; which of them is gone,
    that the server is, and where the last note came from stands on the screen as long as it is so.
    """
    own_server.end()
    log = tmp_path / "log"
    arguments = ("listen", "--backend", "jack", "--out", str(tmp_path / "out"))
    environment = {"JACK_DEFAULT_SERVER": own_server.name, "XDG_CONFIG_HOME": str(tmp_path)}
    with Terminal(*arguments, columns=110, **environment) as terminal:
        terminal.until("Waiting for a MIDI keyboard: no JACK server is running: start one.", "Ctrl-C")
        own_server.start()
        terminal.until("JACK answers, but there is no MIDI input.")
        alto = send(own_server, "-", log, "hold", "60", client="alto")
        terminal.until("alto:out (JACK)", "waiting for the first note")
        end_all(alto)
        terminal.until("alto:out (gone) (JACK)", "INPUT GONE")
        terminal.type(b"q")
        assert terminal.end() == 0
    senders = [send(own_server, "-", log, "hold", "60", client=name) for name in ("bass", "viol")]
    with Terminal(*arguments, columns=110, **environment) as terminal:
        terminal.until("1 to 2? (several with commas, or all)")
        terminal.type(b"all\n")
        terminal.until("bass:out, viol:out (JACK)")
        terminal.type(b"i")
        go(senders[1])
        terminal.until("viol:out, source of the last note")
        go(senders[0])
        terminal.until("bass:out, source of the last note")
        senders[1].kill()
        terminal.until("viol:out, unplugged (waiting for it)", "INPUT GONE")
        time.sleep(8.5)  # a notice would have gone by now
        terminal.until("viol:out, unplugged (waiting for it)", "INPUT GONE")
        own_server.end(signal.SIGKILL)
        terminal.until("bass:out (gone), viol:out (gone) (JACK: the server stopped)")
        own_server.start()
        again = send(own_server, "-", log, "hold", "60", client="bass")
        terminal.until("bass:out, viol:out (gone) (JACK)")
        terminal.type(b"q")
        assert terminal.end() == 0
    end_all(*senders, again)


def test_no_midi_system_is_one_sentence(tmp_path: Path) -> None:
    """Where somebody said what to listen to, or asks for a list."""
    environment = {**os.environ, "JACK_DEFAULT_SERVER": "nobody-started-this"}
    listen = ["listen", "--virtual", "--out", str(tmp_path)]
    for command in (["ports", "--backend", "jack"], [*listen, "--backend", "jack"]):
        done = subprocess.run(
            [sys.executable, "-m", "livepedal", *command],
            env=environment,
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 2
        assert done.stdout == ""
        assert done.stderr.count("\n") == 1
        assert "no JACK server is running" in done.stderr
        assert "livepedal replay" in done.stderr


def test_choice_is_remembered_and_forgotten(server: Server, tmp_path: Path) -> None:
    """Of two keyboards the one chosen the last time is opened without a question."""
    environment = dict(server.environment, XDG_CONFIG_HOME=str(tmp_path / "config"))
    server.environment, before = environment, server.environment
    senders = [send(server, "-", tmp_path / name, "hold", "60", client=name) for name in ("alto", "bass")]
    try:
        out = ["--out", str(tmp_path / "out")]
        with Listener(server, *out, "--port", "bass") as listener:
            listener.until("Listening to bass:out")
            listener.end()
        with Listener(server, *out) as listener:
            listener.until("Listening to bass:out")
            listener.end()
        assert "choose with --port" in livepedal(server, "listen", *out, "--forget").stderr
    finally:
        server.environment = before
        end_all(*senders)


def test_every_key_while_listening(server: Server, tmp_path: Path) -> None:
    """In a real terminal; each does something that can be seen."""
    played_on_time(tmp_path, lambda folder: _every_key(server, folder))


def _every_key(server: Server, folder: Path) -> None:
    before = server.ports()
    out = ("--out", str(folder))
    with Terminal("listen", "--virtual", *out, JACK_DEFAULT_SERVER=server.name) as terminal:
        terminal.until("waiting for the first note", "q quit")
        terminal.type(b"k")
        terminal.until("there is no passage to keep yet")
        terminal.type(b"sEb\r")
        terminal.until("the pedals are set to D♮ C♮ B♭ | E♭ F♮ G♮ A♭; a new take begins")
        (port,) = {name for name in server.ports() - before if name.endswith(":livepedal")}
        # Its end waits for the end of the music.
        with send(server, port, folder / "log", "file", str(RECORDINGS / "03-paddle-wheel.mid"), "1"):
            terminal.until("UNPLAYABLE so far")
            terminal.type(b"k")
            terminal.until("kept as ")
            terminal.type(b"p")
            terminal.until("judged for the virtuoso player from now on", "(for the working player)")
            for _ in range(4):
                terminal.type(b"t")
                time.sleep(0.5)
            terminal.until("crotchets a minute, as tapped")
            terminal.type(b"?")
            terminal.until("keep this passage", "tap the tempo", "the passages so far", "Esc back")
            terminal.type(b"i")
            terminal.until("what is heard", "Messages so far", "by the tempo given or tapped")
            terminal.type(b"i")
        # The passage is over; what was kept is saved, and what would mend it is told.
        terminal.until("passage over: UNPLAYABLE", "playable at ", "set before it", "more finding")
        terminal.type(b"h")
        terminal.until("1 over", "playable at")
        terminal.type(b"\r")
        terminal.until("passage 1", ", for the virtuoso player", "on the file that is saved at the end")
        terminal.type(b"\x1b\x1b")
        terminal.until("struck next")
        terminal.type(b" ")
        terminal.until("PAUSED", "not judged, and only in the journal", "space continues")
        terminal.type(b" ")
        terminal.until("k keep this passage")
        terminal.type(b"r")
        terminal.until("waiting for the first note")
        terminal.type(b"q")
        assert terminal.end() == 0
        assert terminal.given_back()
        assert terminal.shown().count("Saved ") >= 2
    assert len(list(folder.glob("*-passage-1.mid"))) == 1


def test_dashboard_listens_draws_and_gives_the_terminal_back(server: Server, tmp_path: Path) -> None:
    before = server.ports()
    with Terminal(
        "listen",
        "--virtual",
        "--out",
        str(tmp_path),
        "--tempo",
        "100",
        columns=100,
        rows=30,
        JACK_DEFAULT_SERVER=server.name,
    ) as terminal:
        terminal.until("waiting for the first note", "q quit")
        (port,) = {name for name in server.ports() - before if name.endswith(":livepedal")}
        sender = send(server, port, tmp_path / "log", "file", str(RECORDINGS / "03-paddle-wheel.mid"), "1")
        terminal.until("UNPLAYABLE", "bar 1")
        terminal.type(b"p")
        terminal.until("virtuoso")
        sender.wait()
        terminal.type(b"q")
        assert terminal.end() == 0
        assert terminal.given_back()
        assert "Saved " in terminal.shown()
    assert only(tmp_path, ".mid").exists()
