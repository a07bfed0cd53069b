"""New files: written aside and then put in their place; what is there stays unless told otherwise; links are not
followed; folders, devices and pipes are no places for them.
"""

from __future__ import annotations

import errno
import os
import socket
import stat
from collections.abc import Callable
from pathlib import Path

import pytest

from livepedal.cli import main
from livepedal.errors import LivepedalError
from livepedal.live import saving
from livepedal.sources.writing import NewFile
from tests.places import RECORDINGS

HARD = str(RECORDINGS / "03-paddle-wheel.mid")
TWO = str(RECORDINGS / "08-two-banks.mid")
OUTSIDE = b"belongs to somebody else"
COMMANDS = {
    "marked": ["check", HARD, "--marked"],
    "page": ["check", HARD, "--page"],
    "share": ["share", HARD, "-o"],
    "combine": ["combine", TWO, "-o"],
}


def link(target: str) -> Callable[[Path], None]:
    return lambda path: path.symlink_to(path.parent.parent / target)


def device(path: Path) -> None:
    try:
        os.mknod(path, 0o600 | stat.S_IFCHR, os.makedev(1, 3))  # as /dev/null
    except OSError:
        pytest.skip("only root can make a device")


def bound(path: Path) -> None:
    before = os.getcwd()
    os.chdir(path.parent)  # the address of a socket must be short
    try:
        with socket.socket(socket.AF_UNIX) as one:
            one.bind(path.name)
    finally:
        os.chdir(before)


# What stands in the place of the new file, and what is said of it without --force and with it.
PLACES: dict[str, tuple[Callable[[Path], object], str, str]] = {
    "a file": (lambda path: path.write_bytes(b"kept"), "already exists", ""),
    "a folder": (lambda path: path.mkdir(), "is a folder", "is a folder"),
    "a link to a file outside": (link("outside"), "symbolic link", "symbolic link"),
    "a link to a folder outside": (link("elsewhere"), "is a folder", "is a folder"),
    "a dangling link": (link("nothing"), "symbolic link", "symbolic link"),
    "a link to itself": (lambda path: path.symlink_to(path), "symbolic link", "symbolic link"),
    "a pipe": (lambda path: os.mkfifo(path), "device or a pipe", "device or a pipe"),
    "a device": (device, "device or a pipe", "device or a pipe"),
    "a socket": (bound, "device or a pipe", "device or a pipe"),
}


def refused(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    assert main(arguments) == 2
    (sentence,) = capsys.readouterr().err.splitlines()
    assert "went wrong" not in sentence
    return sentence


def outside(tmp_path: Path) -> Path:
    """A folder for new files, with a file and a folder beside it that nothing may be written to."""
    (tmp_path / "outside").write_bytes(OUTSIDE)
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "out").mkdir()
    return tmp_path / "out"


def untouched(tmp_path: Path) -> bool:
    return (
        sorted(path.name for path in tmp_path.iterdir()) == ["elsewhere", "out", "outside"]
        and (tmp_path / "outside").read_bytes() == OUTSIDE
        and not any((tmp_path / "elsewhere").iterdir())
    )


@pytest.mark.parametrize("place", PLACES)
def test_what_stands_there(place: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    make, said, forced = PLACES[place]
    target = outside(tmp_path) / "new.mid"
    make(target)
    before = os.lstat(target)
    for command in COMMANDS.values():
        assert said in refused([*command, str(target)], capsys)
        if forced:
            assert forced in refused([*command, str(target), "--force"], capsys)
        now = os.lstat(target)
        assert (now.st_mode, now.st_ino, now.st_size) == (before.st_mode, before.st_ino, before.st_size)
        assert list(target.parent.iterdir()) == [target]
    assert untouched(tmp_path)


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize("name", ["x" * 300 + ".mid", "none/new.mid", "outside/new.mid", "", "loop/new.mid"])
def test_where_there_is_no_place(
    command: str,
    name: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    outside(tmp_path)
    monkeypatch.chdir(tmp_path / "out")
    Path("outside").write_bytes(OUTSIDE)
    Path("loop").symlink_to("loop")
    for force in ([], ["--force"]):
        sentence = refused([*COMMANDS[command], name, *force], capsys)
        assert ("cannot be written" if name else "is empty") in sentence
    assert sorted(os.listdir()) == ["loop", "outside"]


@pytest.mark.skipif(not Path("/proc/self").exists(), reason="no /proc here")
def test_a_folder_that_takes_no_files() -> None:
    """Not even root's; it stands for a read-only disk."""
    for force in (False, True):
        with pytest.raises(LivepedalError, match="cannot be written"):
            NewFile("/proc/self/new.mid", force=force).write(b"")


def test_put_there_whole_or_not_at_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """While it is written there is no file of its name; a disk that fills up leaves nothing behind, and the old file
    as it was.
    """
    target = tmp_path / "new.mid"
    seen: list[list[str]] = []

    def synced(number: int) -> None:
        seen.append(sorted(os.listdir(tmp_path)))

    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", synced)
        NewFile(target).write(b"one")
    ((aside,),) = seen  # brought to the disk before it was named
    assert aside.startswith(".")
    assert os.listdir(tmp_path) == ["new.mid"]

    def full(number: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", full)
        for path, force in ((target, True), (tmp_path / "other.mid", False)):
            with pytest.raises(LivepedalError, match="No space left"):
                NewFile(path, force=force).write(b"two")
    assert target.read_bytes() == b"one"
    assert os.listdir(tmp_path) == ["new.mid"]


def test_a_file_that_comes_meanwhile_is_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Between the look and the naming: with hard links and, as on some file systems, without."""
    target = tmp_path / "new.mid"
    for linking in (True, False):
        with monkeypatch.context() as patch:
            patch.setattr(os, "fsync", lambda number: target.write_bytes(b"theirs"))
            if not linking:
                patch.setattr(
                    os, "link", lambda *paths: (_ for _ in ()).throw(OSError(errno.EPERM, "no links"))
                )
            with pytest.raises(LivepedalError, match="cannot be written"):
                NewFile(target).write(b"ours")
        assert target.read_bytes() == b"theirs"
        assert os.listdir(tmp_path) == ["new.mid"]
        target.unlink()


@pytest.mark.skipif(os.name == "nt", reason="permissions of POSIX")
def test_permissions(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A new file has the user's; one that is replaced keeps its own, so that what was private stays so, while it is
    written too. The umask, which all threads have in common, is left alone.
    """
    target = tmp_path / "new.mid"
    aside: list[int] = []

    def synced(number: int) -> None:
        aside.append(stat.S_IMODE(os.fstat(number).st_mode))

    before = os.umask(0o027)
    try:
        with monkeypatch.context() as patch:
            patch.delattr(os, "umask")
            patch.setattr(os, "fsync", synced)
            NewFile(target).write(b"one")
            assert stat.S_IMODE(target.stat().st_mode) == 0o640
            target.chmod(0o600)
            NewFile(target, force=True).write(b"two")
    finally:
        os.umask(before)
    assert aside == [0o640, 0o600]
    assert target.read_bytes() == b"two"
    assert stat.S_IMODE(target.stat().st_mode) == 0o600


def test_the_input_is_never_replaced_by_whatever_name(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    source = tmp_path / "part.mid"
    source.write_bytes(Path(HARD).read_bytes())
    (tmp_path / "hard.mid").hardlink_to(source)
    (tmp_path / "soft.mid").symlink_to(source)
    (tmp_path / "here").symlink_to(tmp_path)
    for name in ("part.mid", "hard.mid", "soft.mid", "here/part.mid", "../" + tmp_path.name + "/part.mid"):
        for command in ("marked", "page", "share"):
            words = [str(source) if word == HARD else word for word in COMMANDS[command]]
            assert "is the file being read" in refused([*words, str(tmp_path / name), "--force"], capsys)
    assert source.read_bytes() == Path(HARD).read_bytes()


def test_files_of_a_session_are_put_under_free_names(tmp_path: Path) -> None:
    """What `listen` and `recover` save: links and files in the folder are passed over, never followed or replaced."""
    out = outside(tmp_path)
    (out / "take.mid").symlink_to(tmp_path / "nothing")
    (out / "take-2.mid").symlink_to(tmp_path / "outside")
    (out / "take-3.mid").mkdir()
    (out / "take-4.mid").write_bytes(b"kept")
    assert saving.write_new(out, "take", b"music").name == "take-5.mid"
    assert (out / "take-5.mid").read_bytes() == b"music"
    assert (out / "take-4.mid").read_bytes() == b"kept"
    assert untouched(tmp_path)
    assert not list(out.glob(".*"))
