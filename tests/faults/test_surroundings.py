"""livepedal in odd surroundings: a full disk, closed streams, no home, any locale, -O, warnings as errors, killed."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from livepedal.cli import main
from livepedal.cli.streams import unwritable
from tests.places import ROOT

RECORDINGS = ROOT / "recordings"
AUDIBLE = str(RECORDINGS / "12-moored.mid")
HARD = str(RECORDINGS / "03-paddle-wheel.mid")
BARE = {"PATH": os.environ["PATH"], "PYTHONPATH": str(ROOT)}
COMMANDS = {
    "check": ["check", AUDIBLE],
    "remedies": ["check", "--remedies", HARD],
    "json": ["check", "--json", "--remedies", "--sheet", AUDIBLE],
    "jobs": ["check", "--jsonl", "--jobs", "2", AUDIBLE, HARD],
    "page": ["check", AUDIBLE, "--page", "OUT.html"],
    "marked": ["check", AUDIBLE, "--marked", "OUT.mid"],
    "replay": ["replay", "--plain", "--speed", "1000", AUDIBLE],
    "spell": ["spell", AUDIBLE],
    "share": ["share", HARD, "-o", "OUT-1.mid"],
    "combine": ["combine", str(RECORDINGS / "08-two-banks.mid"), "-o", "OUT-2.mid"],
    "compare": ["compare", HARD, str(RECORDINGS / "05-paddle-wheel-revised.mid")],
    "tracks": ["tracks", str(RECORDINGS / "15-cue-export.mid")],
    "schema": ["schema"],
    "recover": ["recover", "--list", "."],
    "ports": ["ports", "--backend", "none"],
    "version": ["--version"],
    "help": ["check", "--help"],
}


def run(
    arguments: list[str], *flags: str, env: dict[str, str] | None = None, **more
) -> subprocess.CompletedProcess[str]:
    more.setdefault("stdout", subprocess.PIPE)
    more.setdefault("stderr", subprocess.PIPE)
    return subprocess.run(
        [sys.executable, *flags, "-m", "livepedal", *arguments],
        env=BARE if env is None else env,
        text=True,
        encoding="utf-8",
        errors="replace",
        timeout=120,
        **more,
    )


def test_ctrl_c_while_it_starts(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    class Interrupted:
        def find_spec(self, name: str, *more: object) -> None:
            if name == "livepedal.cli.parsing":
                raise KeyboardInterrupt

    main(["schema"])
    capsys.readouterr()
    monkeypatch.delitem(sys.modules, "livepedal.cli.parsing")
    monkeypatch.delattr("livepedal.cli.parsing")
    monkeypatch.setattr(sys, "meta_path", [Interrupted(), *sys.meta_path])
    assert main(["schema"]) == 128 + signal.SIGINT
    assert capsys.readouterr() == ("", "")


@pytest.mark.slow
@pytest.mark.parametrize("command", COMMANDS)
def test_warnings_are_errors(command: str, tmp_path: Path) -> None:
    """In a locale that has no encoding but ASCII, where no file may be opened without saying its encoding."""
    env = {**BARE, "LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0", "HOME": str(tmp_path)}
    flags = ("-W", "error", "-X", "dev", "-X", "warn_default_encoding")
    done = run(COMMANDS[command], *flags, env=env, cwd=tmp_path)
    if command == "ports":
        assert done.returncode == 2
        assert len(done.stderr.splitlines()) == 1
    else:
        assert done.stderr == ""
        assert done.returncode in (0, 1)
        assert done.stdout.isascii()


@pytest.mark.parametrize("command", [["check", "--csv", AUDIBLE], ["check", AUDIBLE], ["schema"]])
def test_an_error_handler_that_python_does_not_have_is_told_at_once(command: list[str]) -> None:
    done = run(command, env={**BARE, "PYTHONIOENCODING": "ascii:ferry"})
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.startswith("livepedal: PYTHONIOENCODING asks for the error handler 'ferry'")
    assert len(done.stderr.splitlines()) == 1


@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "utf-8"])
def test_a_table_for_a_spreadsheet_is_the_same_wherever_it_is_written(encoding: str) -> None:
    done = run(["check", "--csv", HARD], env={**BARE, "PYTHONIOENCODING": encoding})
    assert (done.returncode, done.stderr) == (1, "")
    assert "G♮4 comes too soon for the pedal G♯→G♮" in done.stdout


@pytest.mark.skipif(os.name != "posix", reason="limits of open files are POSIX's")
@pytest.mark.parametrize("files", [10, 12, 14, 16, 20])
def test_where_few_files_may_be_open_processes_are_judged_or_not_begun(files: int) -> None:
    import resource

    def few() -> None:
        resource.setrlimit(resource.RLIMIT_NOFILE, (files, files))

    done = run(["check", "--jobs", "2", AUDIBLE, HARD], preexec_fn=few)
    if done.returncode == 2:
        assert "the system allows no more open files; use fewer --jobs" in done.stderr
        assert len(done.stderr.splitlines()) == 1
    else:
        assert (done.returncode, done.stderr) == (1, "")


@pytest.mark.parametrize("jobs", ["1", "2"])
def test_nothing_on_standard_input_does_not_stop_the_rest(jobs: str) -> None:
    done = run(["check", "--jobs", jobs, "-", AUDIBLE], stdin=subprocess.DEVNULL)
    assert (done.returncode, done.stderr) == (2, "")
    first, second = (line for line in done.stdout.splitlines() if line.startswith(("standard input", AUDIBLE[:9])))
    assert "not judged" in first
    assert "There is nothing on standard input" in first
    assert "audible" in second or "playable" in second


def test_watching_with_warnings_as_errors(tmp_path: Path) -> None:
    (tmp_path / "exports").mkdir()
    shutil.copy(AUDIBLE, tmp_path / "exports")
    command = [sys.executable, "-W", "error", "-X", "dev", "-m", "livepedal", "watch", "--plain", "exports"]
    pipe = subprocess.PIPE
    with subprocess.Popen(command, cwd=tmp_path, env=BARE, stdout=pipe, stderr=pipe, text=True) as process:
        assert process.stdout is not None
        while "Watching" not in (said := process.stdout.readline()):
            assert said, process.communicate()
        shutil.copy(HARD, tmp_path / "exports")
        while "the first export of this cue" not in (said := process.stdout.readline()):
            assert said, process.communicate()
        process.send_signal(signal.SIGINT)
        _, complaint = process.communicate(timeout=60)
    assert (process.returncode, complaint) == (0, "")


@pytest.mark.parametrize("command", ["check", "tracks", "spell"])
def test_optimised(command: str) -> None:
    """Without assertions and docstrings the answers are the same."""
    one, other = run(COMMANDS[command]), run(COMMANDS[command], "-OO")
    assert (one.returncode, one.stdout, one.stderr) == (other.returncode, other.stdout, other.stderr)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full here")
@pytest.mark.parametrize("buffered", [True, False])
@pytest.mark.parametrize("command", ["check", "json", "jobs", "schema", "spell", "help"])
def test_a_full_disk_is_one_sentence(command: str, buffered: bool) -> None:
    """Python would complain once more at its end, and give 120 back."""
    env = BARE if buffered else {**BARE, "PYTHONUNBUFFERED": "1"}
    with open("/dev/full", "w") as full:
        done = run(COMMANDS[command], env=env, stdout=full)
    if command == "help" and not buffered:
        return  # argparse keeps that to itself
    (sentence,) = done.stderr.splitlines()
    assert done.returncode == 2
    assert sentence.startswith("livepedal: the output cannot be written (No space left on device)")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full here")
def test_no_half_file_is_left_where_the_report_cannot_be_written(tmp_path: Path) -> None:
    with open("/dev/full", "w") as full:
        done = run(["check", AUDIBLE, "--marked", str(tmp_path / "out.mid")], stdout=full, env=BARE)
    assert done.returncode == 2
    assert [path.name for path in tmp_path.iterdir()] in ([], ["out.mid"])


def test_an_error_of_opening_is_none_of_writing() -> None:
    with pytest.raises(FileNotFoundError) as caught:
        open("none")  # noqa: SIM115
    assert unwritable(caught.value) is None


@pytest.mark.parametrize("closed", [(0,), (1,), (2,), (0, 1, 2)])
def test_closed_streams(closed: tuple[int, ...]) -> None:
    def close() -> None:
        for number in closed:
            os.close(number)

    done = run(COMMANDS["check"], preexec_fn=close)
    assert done.returncode == 0
    assert done.stderr == ""
    assert ("PLAYABLE" in done.stdout) == (1 not in closed)
    missing = run(["check", "missing.mid"], preexec_fn=close)
    assert missing.returncode == 2
    assert ("missing.mid" in missing.stderr) == (2 not in closed)


@pytest.mark.parametrize(
    "home",
    [{}, {"HOME": ""}, {"HOME": "/proc/nobody"}, {"HOME": "/dev/null"}, {"XDG_CONFIG_HOME": "/dev/null"}],
)
def test_no_home(home: dict[str, str]) -> None:
    """A user's own figures and sessions are looked for there; without it there are none."""
    done = run(COMMANDS["check"], env={**BARE, **home})
    assert (done.returncode, done.stderr) == (0, "")


def test_a_home_that_may_not_be_entered(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    if os.geteuid() == 0:
        pytest.skip("root may enter every folder")
    closed = tmp_path / "closed"
    closed.mkdir(mode=0)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(closed))
    assert main(COMMANDS["check"]) == 0


@pytest.mark.slow
@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP, signal.SIGKILL])
def test_processes_end_with_the_one_that_is_killed(number: signal.Signals, tmp_path: Path) -> None:
    """Those of --jobs would wait for work for ever: nobody is left to tell them that there is none."""
    if not Path("/proc/self/stat").exists():
        pytest.skip("no /proc here")
    for copy in range(60):
        shutil.copy(RECORDINGS / "11-weir.mid", tmp_path / f"{copy}.mid")
    command = [sys.executable, "-m", "livepedal", "check", "--jobs", "2", "--jsonl", str(tmp_path)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, env=BARE) as process:
        assert process.stdout is not None
        assert process.stdout.readline()  # the others are at work
        others = _children(process.pid)
        assert len(others) >= 2
        process.send_signal(number)
        process.wait(timeout=60)
        assert process.returncode == -number
        end = time.monotonic() + 60
        while left := [one for one in others if _runs(one)]:
            assert time.monotonic() < end, left
            time.sleep(0.05)


def _children(pid: int) -> list[int]:
    found = []
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = stat.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        if int(fields[1]) == pid:
            found.append(int(stat.parent.name))
    return found


def _runs(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] not in "ZX"
    except OSError:
        return False


@pytest.mark.slow
def test_the_c_locale_has_ascii_alone() -> None:
    """Unless Python is told otherwise in so many words."""
    for name in ("LC_ALL", "LC_CTYPE", "LANG"):
        # Python would put its own in the place of the last two.
        done = run(["check", HARD], env={**BARE, name: "C", "PYTHONCOERCECLOCALE": "0"})
        assert done.stdout.isascii()
        assert "Ab" in done.stdout
    assert "A♭" in run(["check", HARD], env={**BARE, "LC_ALL": "C", "PYTHONUTF8": "1"}).stdout
