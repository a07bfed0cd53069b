"""`livepedal replay` in real pseudo-terminals and pipes."""

from __future__ import annotations

import os
import re
import shlex
import signal
import subprocess
import sys
import termios
import threading
import time
from pathlib import Path

import pytest

from livepedal import bundled
from livepedal.advice.judging.basis import Basis
from livepedal.errors import LivepedalError
from livepedal.harp import Figures, Setting
from livepedal.live.playback import Pace, Playback
from livepedal.replay import Replay
from livepedal.views.lines import plain_text
from tests.advice.changed import part_of
from tests.live.here import AdvisorHere
from tests.places import RECORDINGS

from .terminals import PATIENCE, Terminal


def run(*arguments: str, **more) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "livepedal", *arguments],
        capture_output=True,
        encoding="utf-8",
        env={**os.environ, "PYTHONIOENCODING": "utf-8"},
        timeout=300,
        **more,
    )


def test_the_dashboard_shows_the_bundled_recording_from_any_folder(tmp_path: Path) -> None:
    with Terminal("replay", "--speed", "2") as terminal:
        shown = terminal.until("UNPLAYABLE", "03-paddle-wheel.mid", "comes too soon")
        assert "left foot" in shown
        assert re.search(r"bar \d+, beat \d", shown)
        # It is on the alternate screen, with the cursor hidden and the keyboard silent.
        assert not terminal.given_back()
        assert not termios.tcgetattr(terminal._slave)[3] & termios.ECHO
        terminal.type(b"q")
        assert terminal.end() == 0
        assert terminal.given_back()
        # What was asked for remains in the window: the verdict in short.
        assert "the working player cannot play" in terminal.shown()


@pytest.mark.parametrize("how", ["key", "SIGINT", "SIGTERM", "SIGHUP"])
def test_every_signal_gives_the_terminal_back(how: str) -> None:
    with Terminal("replay") as terminal:
        terminal.until("left foot")
        if how == "key":
            terminal.type(b"\x03")  # Ctrl-C, as the terminal's driver makes a signal of it
            number = signal.SIGINT
        else:
            number = getattr(signal, how)
            terminal.process.send_signal(number)
        assert terminal.end() == 128 + number
        assert terminal.given_back()
        assert b"Traceback" not in terminal.raw
        # The same summary as after q.
        assert "ended at" in terminal.shown()
        assert "For the setting, the pedal changes, every finding and every remedy" in terminal.shown()


def test_a_closed_window_ends_it() -> None:
    with Terminal("replay") as terminal:
        terminal.until("left foot")
        terminal.hang_up()
        assert terminal.process.wait(timeout=PATIENCE) in (128 + signal.SIGHUP, -signal.SIGHUP)


def test_it_plays_to_the_end_and_leaves_a_summary() -> None:
    with Terminal("replay", "--speed", "20") as terminal:
        # It stays for looking back, until somebody ends it.
        terminal.until("OVER", "passage over: UNPLAYABLE")
        terminal.type(b"q")
        assert terminal.end() == 0
        assert terminal.given_back()
        assert "UNPLAYABLE" in terminal.shown()
        assert "of 57 attacks" in terminal.shown()


def test_it_uses_more_room_and_follows_the_window() -> None:
    with Terminal("replay", columns=120, rows=40) as terminal:
        terminal.until("left foot", "space pause")
        assert "space pause" in terminal.screen.display[39]
        terminal.resize(80, 24)
        end = time.monotonic() + PATIENCE
        while "space pause" not in terminal.screen.display[23] and time.monotonic() < end:
            terminal.read()
        assert "space pause" in terminal.screen.display[23]
        terminal.resize(59, 20)
        terminal.until("needs 60x20", "q quits")
        terminal.type(b"q")
        assert terminal.end() == 0


def test_space_pauses() -> None:
    with Terminal("replay") as terminal:
        terminal.until("left foot")
        terminal.type(b" ")
        terminal.until("PAUSED")
        terminal.read(0.5)  # the rest of that picture
        head = terminal.screen.display[0]
        for _ in range(5):
            terminal.read(0.1)
        assert terminal.screen.display[0] == head
        terminal.type(b" ")
        end = time.monotonic() + PATIENCE
        while terminal.screen.display[0] == head and time.monotonic() < end:
            terminal.read()
        assert "PAUSED" not in terminal.screen.display[0]


def test_no_color_draws_without_colour() -> None:
    with Terminal("replay", NO_COLOR="1") as terminal:
        terminal.until("UNPLAYABLE")
        terminal.type(b"q")
        terminal.end()
        # Select Graphic Rendition 30 to 49 are colours (ECMA-48, 8.3.117); bold alone may stay.
        codes = {
            int(code)
            for found in re.findall(rb"\x1b\[([\d;]*)m", terminal.raw)
            for code in found.split(b";")
            if code
        }
        assert not codes & set(range(30, 50))


def test_ascii_terminals_get_ascii() -> None:
    with Terminal("replay", PYTHONIOENCODING="ascii") as terminal:
        shown = terminal.until("UNPLAYABLE", "Gn")
        assert shown.isascii()


@pytest.mark.slow
@pytest.mark.parametrize("environment", [{"TERM": "dumb"}, {"TERM": ""}])
def test_dumb_terminals_get_lines(environment: dict[str, str]) -> None:
    with Terminal("replay", "--speed", "20", **environment) as terminal:
        assert terminal.end() == 0
        assert b"\x1b[?1049h" not in terminal.raw
        assert b"comes too soon" in terminal.raw


def test_a_pipe_gets_one_line_a_finding_with_its_time() -> None:
    done = run("replay", "--speed", "50")
    assert done.returncode == 0
    assert "\x1b" not in done.stdout
    found = [one for one in done.stdout.splitlines() if ": unplayable: " in one]
    assert len(found) == 6
    assert all(re.match(r"\d+\.\d\d s, bar \d+, beat [\d.]+", one) for one in found)
    times = [float(one.split()[0]) for one in found]
    assert times == sorted(times)


@pytest.mark.slow
def test_speed_does_not_change_what_is_found() -> None:
    def found(speed: str) -> list[str]:
        return [one for one in run("replay", "--speed", speed).stdout.splitlines() if "bar" in one]

    assert found("30") == found("500")


def test_real_time_is_real() -> None:
    started = time.monotonic()
    run("replay", "--speed", "4", "--plain")
    # The recording lasts 8.7 s and its last rest 1.5 s; a clock that ran ahead would be done sooner.
    assert time.monotonic() - started >= 10.2 / 4


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_ctrl_c_in_line_mode_ends_with_the_summary(number: signal.Signals) -> None:
    process = subprocess.Popen(
        [sys.executable, "-m", "livepedal", "replay"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        encoding="utf-8",
        env={**os.environ, "PYTHONIOENCODING": "utf-8"},
    )
    assert process.stdout is not None
    assert "Replaying" in process.stdout.readline()
    assert "unplayable" in process.stdout.readline()
    process.send_signal(number)
    said, complaints = process.communicate(timeout=PATIENCE)
    assert process.returncode == 128 + number
    assert complaints == ""
    assert re.search(r"  ended at \d\.\d\d s of 8\.70 s\n  the working player cannot play [1-9]", said)
    assert re.fullmatch(r"  livepedal check \S*03-paddle-wheel.mid --all", said.splitlines()[-1])


def test_after_the_last_note_it_is_not_called_ended_early() -> None:
    """The recording lasts 8.7 s, and its last passage is open until a rest after that is over."""
    now = 0
    figures = Figures.builtin()
    replay = Replay(
        part_of("03-paddle-wheel.mid"),
        "wheel",
        Basis(figures, figures.instrument("47")),
        pace=Pace(clock=lambda: now),
    )
    said = "\n".join(map(plain_text, replay.summary()))
    assert "EASY" not in said
    assert "before the first note: nothing was judged" in said
    for seconds, ended in ((8, True), (9.33, False)):
        now = int(seconds * 1_000_000_000)
        replay.goes_on()
        said = "\n".join(map(plain_text, replay.summary()))
        assert ("ended at 8.00 s of 8.70 s" in said) is ended
        assert ("ended" in said) is ended
    assert "of 57 attacks" in said


def test_q_ends_it_though_a_note_is_judged_for_ever(monkeypatch: pytest.MonkeyPatch) -> None:
    figures = Figures.builtin()
    replay = Replay(part_of("03-paddle-wheel.mid"), "wheel", Basis(figures, figures.instrument("47")))
    stuck, going = threading.Event(), threading.Event()

    def never(self: Playback) -> None:
        stuck.set()
        going.wait()

    monkeypatch.setattr(Playback, "feed", never)
    replay.start()
    try:
        assert stuck.wait(60)
        assert replay.scene().snapshot.attacks == 0
        assert replay.key("p")
        assert "q quits" in replay.details()
        assert not replay.key("q")
        replay.end()
    finally:
        monkeypatch.undo()
        going.set()


STUCK = """
import signal, sys, threading
from livepedal.cli import main
from livepedal.live.playback import Playback

feed, fed = Playback.feed, []

def never(self):
    fed.append(1)
    while len(fed) > 40:
        pass
    return feed(self)

Playback.feed = never
sys.exit(main(sys.argv[1:]))
"""


def test_ctrl_c_ends_lines_though_a_note_is_judged_for_ever() -> None:
    process = subprocess.Popen(
        [sys.executable, "-c", STUCK, "replay", "--speed", "20", "--plain"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        encoding="utf-8",
        env={**os.environ, "PYTHONIOENCODING": "utf-8"},
    )
    assert process.stdout is not None
    assert "Replaying" in process.stdout.readline()
    assert "unplayable" in process.stdout.readline()
    process.send_signal(signal.SIGINT)
    said, complaints = process.communicate(timeout=PATIENCE)
    assert process.returncode == 128 + signal.SIGINT
    assert complaints == ""
    assert "  ended at " in said


def test_recordings_are_found_by_name() -> None:
    assert (
        bundled.find("paddle-wheel")
        == bundled.find("03-paddle-wheel.mid")
        == bundled.folder() / bundled.FIRST
    )
    assert bundled.find("nothing of the kind") is None
    assert [path.name for path in bundled.recordings()] == sorted(
        path.name for path in RECORDINGS.glob("*.mid")
    )


@pytest.mark.parametrize(("name", "told"), [("nonesuch", "03-paddle-wheel, "), ("paddle", "did you mean paddle-wheel?")])
def test_an_unknown_name_lists_the_recordings_or_names_one_like_it(name: str, told: str) -> None:
    done = run("replay", name)
    assert done.returncode == 2
    assert told in done.stderr
    assert len(done.stderr.splitlines()) == 1


@pytest.mark.parametrize("speed", ["0", "-1", "nan", "inf", "fast"])
def test_a_senseless_speed_is_refused(speed: str) -> None:
    done = run("replay", f"--speed={speed}")
    assert done.returncode == 2
    assert done.stderr.startswith("livepedal: The speed")


@pytest.mark.slow
def test_standard_input_can_be_replayed() -> None:
    data = (RECORDINGS / "03-paddle-wheel.mid").read_bytes()
    done = subprocess.run(
        [sys.executable, "-m", "livepedal", "replay", "-", "--speed", "100"],
        input=data,
        capture_output=True,
        timeout=300,
    )
    assert done.returncode == 0
    assert done.stdout.startswith(b"Replaying standard input")


def test_an_installation_without_recordings_says_so(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    package = tmp_path / "livepedal"
    package.mkdir()
    monkeypatch.setattr(bundled, "__file__", str(package / "bundled.py"))
    with pytest.raises(LivepedalError, match="no recordings"):
        bundled.folder()
    inside = package / "_recordings"  # as in a wheel
    inside.mkdir()
    (inside / bundled.FIRST).touch()
    assert bundled.folder() == inside


def test_the_pace_keeps_its_place_over_pauses() -> None:
    now = 0
    pace = Pace(2.0, clock=lambda: now)
    now = 3_000_000_000
    assert pace.position() == 6_000_000
    pace.pause()
    now = 9_000_000_000
    assert pace.position() == 6_000_000
    assert pace.paused
    pace.pause()
    now = 10_000_000_000
    assert pace.position() == 8_000_000
    assert pace.until(9_000_000) == 0.5
    assert pace.until(1) == 0


def test_every_key_of_a_replay() -> None:
    """Each does something that can be seen, or says why not."""
    with Terminal("replay", "--speed", "20") as terminal:
        terminal.until("passage over: UNPLAYABLE", "playable at ♩ = 56", "3 more findings: h, then Return")
        terminal.type(b"k")
        terminal.until("keeping works only in livepedal listen; this is already a file")
        terminal.type(b"t")
        terminal.until("tapping works only in livepedal listen; the file has its own tempo")
        terminal.type(b"x")
        terminal.until("x does nothing; ? shows the keys")
        terminal.type(b"?")
        terminal.until("set the pedals", "next player", "the passages so far", "these keys")
        terminal.type(b"i")
        terminal.until("This is a file, not a keyboard")
        terminal.type(b"\x1b")
        terminal.until("what could be struck next")
        terminal.type(b"h")
        terminal.until("1 over", "4 findings", "second harp")
        terminal.type(b"\r")
        terminal.until("passage 1: bars 1 to 4", "4 findings, for the working player", "3 more below")
        terminal.type(b"\x1b[B")
        terminal.until("1 more below", "bar 2, beat 2")
        terminal.type(b"\x1b[A")
        terminal.until("3 more below")
        terminal.type(b"\x1b")
        terminal.until("1 over")
        terminal.type(b"h")
        terminal.until("what could be struck next")
        terminal.type(b"p")
        terminal.until("judged for the virtuoso player from here on", "virtuoso player: playable at")
        terminal.type(b"sno")
        terminal.until("Set the pedals: no")
        terminal.type(b"\r")
        terminal.until("'no' is neither a setting nor a key", "or as a key such as E♭ major.")
        terminal.type(b"\x7f\x7fEb\r")
        terminal.until("the pedals are set to D♮ C♮ B♭ | E♭ F♮ G♮ A♭ from here on")
        terminal.type(b" ")
        assert " OVER" not in terminal.until("PAUSED")
        terminal.type(b"r")
        terminal.until(" OVER")  # it has played again; what stands meanwhile may be gone before it is read
        terminal.type(b"q")
        assert terminal.end() == 0
        assert terminal.given_back()
        assert b"Traceback" not in terminal.raw


@pytest.mark.slow
def test_lines_tell_the_advice_on_a_passage_after_it() -> None:
    """What the screen shows of a passage is in the lines too: the tempo, the spelling, and another way out."""
    lines = run("replay", "--speed", "500").stdout.splitlines()
    at = next(number for number, one in enumerate(lines) if "passage over, bars 1 to 4, 57 attacks: unplayable" in one)
    tempo, spelling, worth, other = lines[at + 1 : at + 5]
    assert (
        tempo
        == "passage 1, bars 1 to 4, working player: playable at ♩ = 56 instead of 100 (56% of the tempo)"
    )
    assert "alone, set D♮ C♮ B♮ | E♮ F♮ G♯ A♮, then " in spelling
    assert ": worth knowing: a pedal moves while its letter rings (a slide)" in worth
    assert ": or bars 1 to 3: give" in other
    assert re.fullmatch(r"  livepedal check \S*03-paddle-wheel.mid --all", lines[-1])


def test_what_is_over_is_told_by_the_bars_of_its_attacks() -> None:
    """The last note of this one sounds until bar 7, and is struck in bar 6 (recordings/make_recordings.py)."""
    lines = run("replay", "cue-export", "--speed", "500").stdout.splitlines()
    spans = [found[0] for one in lines if (found := re.search(r"bars 1 to \d", one))]
    assert spans
    assert set(spans) == {"bars 1 to 6"}


OTHERWISE = (
    "--first-bar",
    "0",
    "--start",
    "Db major",
    "--only",
    "pedals",
    "--player",
    "relaxed",
    "--transpose=-1",
)


@pytest.mark.slow
def test_the_command_at_the_end_judges_what_was_played() -> None:
    wheel = str(RECORDINGS / "03-paddle-wheel.mid")
    lines = run("replay", "--speed", "500", *OTHERWISE, wheel).stdout.splitlines()
    counted = next(one for one in lines if "the relaxed player cannot play" in one)
    command = shlex.split(lines[-1])
    assert command[:2] == ["livepedal", "check"]
    checked = run(*command[1:])
    assert checked.stdout == run("check", "--all", *OTHERWISE, wheel).stdout
    (number,) = re.findall(r"cannot play (\d+) of", counted)
    assert re.search(rf"relaxed player +{number} ", checked.stdout)


@pytest.mark.slow
def test_the_command_at_the_end_is_for_the_part_that_was_played() -> None:
    """08-two-banks has two harps (recordings/README.md); the first of them is played."""
    banks = str(RECORDINGS / "08-two-banks.mid")
    command = shlex.split(run("replay", "--speed", "1000", banks).stdout.splitlines()[-1])
    checked = run(*command[1:]).stdout
    assert "part in" not in checked
    assert "2 parts in 1 file" in run("check", banks).stdout


def test_the_command_at_the_end_knows_the_player_and_the_pedals_of_the_keys() -> None:
    start = Setting.parse("Eb major")
    replay = Replay(
        part_of("03-paddle-wheel.mid"),
        "wheel",
        Basis(Figures.builtin(), Figures.builtin().instrument("47")),
        pace=Pace(1000),
        check=lambda player, setting: f"{player}, {setting}",
    )
    assert plain_text(*replay.check_line()) == "  working, None"
    for key in ("p", "s", *"Eb major", "\r"):
        replay.key(key)
    assert plain_text(*replay.check_line()) == f"  virtuoso, {start}"
    assert "by hand" not in plain_text(replay.summary()[-1]) + replay.scene().check("virtuoso")
    while not replay.monitor.attacks:
        replay.goes_on()
    for key in ("s", *"Ab major", "\r"):
        replay.key(key)
    assert plain_text(*replay.check_line()) == f"  virtuoso, {start}"
    assert "without the pedals that were set by hand" in plain_text(replay.summary()[-1])
    scene = replay.scene()
    assert (
        scene.check("virtuoso")
        == f"virtuoso, {start}, but without the pedals that were set by hand while it played"
    )


@pytest.mark.slow
def test_another_player_can_be_chosen_when_it_is_over() -> None:
    """Its last passage is told for that player then: to a virtuoso it is not too much."""
    figures = Figures.builtin()
    part = part_of("11-weir.mid")
    replay = Replay(
        part,
        "weir",
        Basis(figures, figures.instrument("47")),
        pace=Pace(1000),
        stays=True,
        advisor=AdvisorHere,
    )
    while replay.scene().state != "over":
        replay.goes_on()
    before = [plain_text(line) for line in replay.summary()]
    assert any("the working player can play all" in row for row in before)
    assert any("too many pedal changes" in row for row in before)
    replay.key("p")
    assert "the virtuoso player" in replay.scene().details
    after = [plain_text(line) for line in replay.summary()]
    assert any("the virtuoso player can play all" in row for row in after)
    assert not any("too many pedal changes" in row for row in after)


def test_what_was_piped_is_to_be_piped_again() -> None:
    data = (RECORDINGS / "01-slack-water.mid").read_bytes()
    done = subprocess.run(
        [sys.executable, "-m", "livepedal", "replay", "--speed", "1000", "-"],
        input=data,
        capture_output=True,
        timeout=300,
    )
    *_, said, command = done.stdout.decode().splitlines()
    assert said.endswith("of the same input:")
    assert command == "  livepedal check - --all"


def test_lines_are_the_same_every_time() -> None:
    """Three passages, and advice that comes from a process beside."""
    told = {run("replay", "two-banks", "--speed", speed).stdout for speed in ("100", "1000")}
    assert len(told) == 1
    (one,) = told
    heads = [re.sub(r"\W.*", "", line.partition(": ")[2])[:7] for line in one.splitlines()[1:7]]
    assert heads == ["passage", "for"] * 3


@pytest.mark.slow
def test_too_much_at_once_is_in_the_verdict_of_a_passage() -> None:
    """recordings/README.md: a virtuoso's, since it is too much at once; `check` says so too."""
    said = run("replay", "weir", "--speed", "500").stdout
    assert "virtuoso: Too much at once: at least 19 pedal changes within 6 s" in said
    assert "97 attacks: virtuoso (only a virtuoso can play it)" in said
    assert re.search(r"VIRTUOSO  \S*11-weir\.mid", said)
    assert "but there are too many pedal changes at once in it" in said
    checked = run("check", "--plain", str(RECORDINGS / "11-weir.mid")).stdout
    assert "VIRTUOSO" in checked


def test_lines_on_a_terminal_break_between_words() -> None:
    with Terminal("replay", "--speed", "20", TERM="dumb") as terminal:
        assert terminal.end() == 0
        rows = [row for row in terminal.raw.decode().split("\r\n") if row]
        assert max(map(len, rows)) < 80
        assert "Keys do nothing here; Ctrl-C ends it." in " ".join(row.strip() for row in rows)


@pytest.mark.parametrize("size", [{"COLUMNS": "0"}, {"COLUMNS": "10000000", "LINES": "10000000"}])
def test_a_size_that_no_terminal_has_is_not_heeded(size: dict[str, str]) -> None:
    with Terminal("replay", **size) as terminal:
        terminal.until("what could be struck next")
        terminal.type(b"q")
        assert terminal.end() == 0
