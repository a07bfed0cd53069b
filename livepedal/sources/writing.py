"""New files are written beside their target and then renamed, so that no half-written file has the name.

An input is never overwritten, and another file only on request.
"""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
import stat
from collections.abc import Iterator
from itertools import count
from pathlib import Path

from livepedal.errors import LivepedalError
from livepedal.sources.text import clean

_BINARY = getattr(os, "O_BINARY", 0)  # otherwise Windows writes two characters for each line end


class NewFile:
    """A file that a command will write, once, after its source has been judged. path: where it goes."""

    def __init__(self, target: str | Path, source: str = "-", force: bool = False, option: str = "-o") -> None:
        """Check where it goes, before anything is judged, which may take long.

        Args:
            target: its path.
            source: the file that is read, which is never overwritten; - for standard input.
            force: replace a file that is there already.
            option: what its path was given with.

        Raises:
            LivepedalError: it would replace its source, a folder, a device, a pipe, a symbolic link (which may lead
                anywhere) or, without `force`, any file.
        """
        self.path = Path(target)
        self._source, self._force, self._option = source, force, option
        self._check()

    def _check(self) -> None:
        path, option = self.path, self._option
        shown = clean(str(path), 500)
        with contextlib.suppress(OSError, ValueError):
            if self._source != "-" and path.samefile(self._source):
                raise LivepedalError(f"{shown} is the file being read; name another file with {option}.")
        if os.path.isdir(path):
            raise LivepedalError(f"{shown} is a folder; name a file in it with {option}.")
        try:
            there = _mode(path)
        except OSError as error:
            raise self._unwritten(error) from None
        if there is None:
            if not os.path.isdir(path.parent):
                raise self._unwritten(FileNotFoundError(errno.ENOENT, "there is no such folder"))
            return
        if stat.S_ISLNK(there):
            raise LivepedalError(
                f"{shown} is a symbolic link, and links are not followed; name another file with {option}."
            )
        if not stat.S_ISREG(there):
            raise LivepedalError(f"{shown} is a device or a pipe, not a file; name a file with {option}.")
        if not self._force:
            raise LivepedalError(
                f"{shown} already exists; name another file with {option}, or replace it with --force."
            )

    def write(self, data: bytes) -> None:
        """Write it, whole. Raises LivepedalError, and leaves nothing behind, where it must not or cannot be."""
        self._check()
        try:
            put(self.path, data, replace=self._force)
        except (OSError, ValueError) as error:
            raise self._unwritten(error) from None

    def _unwritten(self, error: Exception) -> LivepedalError:
        reason = clean(getattr(error, "strerror", None) or str(error))
        return LivepedalError(
            f"{clean(str(self.path), 500)} cannot be written ({reason}); name another place with {self._option}."
        )


def names(folder: Path, stem: str, ending: str) -> Iterator[Path]:
    """Names for a new file: the stem, then with -2, -3 behind it."""
    yield folder / f"{stem}{ending}"
    for number in count(2):
        yield folder / f"{stem}-{number}{ending}"


def put(path: Path, data: bytes, *, replace: bool = False) -> None:
    """Write a file, whole or not at all.

    Raises:
        FileExistsError: where there is one already and it is not to be replaced, else OSError or ValueError.
    """
    there = _mode(path)
    aside = path.with_name(f".{path.stem[:40]}-{secrets.token_hex(4)}.part")
    # A file that was private stays so, also while it is written; of a new one the system takes away what it must not
    # allow. (Asking for the umask would mean to change it for a moment, for all threads.)
    handle = os.open(aside, os.O_WRONLY | os.O_CREAT | os.O_EXCL | _BINARY, 0o666 if there is None else 0o600)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if there is not None:
            aside.chmod(stat.S_IMODE(there))
        if replace:
            os.replace(aside, path)
        else:
            _name(aside, path)
    finally:
        with contextlib.suppress(OSError):
            aside.unlink()


def _mode(path: Path) -> int | None:
    """Kind and permissions of what stands there itself, or None. Raises OSError for impossible names."""
    try:
        return os.lstat(path).st_mode
    except (FileNotFoundError, NotADirectoryError, ValueError):
        return None


def _name(aside: Path, path: Path) -> None:
    """Give a file its name, unless another file has taken it meanwhile."""
    try:
        os.link(aside, path)  # fails where there is a file already, unlike renaming
    except FileExistsError:
        raise
    except (OSError, AttributeError):
        # No hard links here: reserve the name with an empty file, then put ours in its place.
        os.close(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
        os.replace(aside, path)
