"""New files are written beside their place and then put there, so that no half file ever bears the name.

What is read is never overwritten, and what is there already only when that is asked for.
"""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Iterable
from pathlib import Path

from livepedal.errors import LivepedalError
from livepedal.sources.text import clean


def check_target(path: Path, inputs: Iterable[Path], force: bool, option: str = "-o") -> None:
    """Raises LivepedalError where a new file must not be put: in the place of an input, or, without `force`,
    of any file. option: what its name was given with.
    """
    shown = clean(str(path), 500)
    for one in inputs:
        with contextlib.suppress(OSError):
            if path.exists() and path.samefile(one):
                raise LivepedalError(f"{shown} is what is read; name another file with {option}.")
    if path.is_dir():
        raise LivepedalError(f"{shown} is a folder; name a file in it with {option}.")
    if not force and (path.exists() or path.is_symlink()):
        raise LivepedalError(
            f"{shown} is there already; name another file with {option}, or replace it with --force."
        )


def write_new(
    path: Path, data: bytes, inputs: Iterable[Path] = (), force: bool = False, option: str = "-o"
) -> None:
    """Write a new file. Raises LivepedalError, and leaves nothing behind, where it must not or cannot be."""
    check_target(path, inputs, force, option)
    aside: Path | None = None
    try:
        handle, name = tempfile.mkstemp(prefix=f".{path.stem[:40]}-", suffix=".part", dir=path.parent)
        aside = Path(name)
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        umask = os.umask(0)
        os.umask(umask)
        aside.chmod(0o666 & ~umask)
        if force:
            os.replace(aside, path)
        else:
            _put(aside, path)
    except OSError as error:
        reason = clean(error.strerror or str(error))
        raise LivepedalError(
            f"{clean(str(path), 500)} cannot be written ({reason}); name another place with {option}."
        ) from None
    finally:
        if aside is not None:
            with contextlib.suppress(OSError):
                aside.unlink()


def _put(aside: Path, path: Path) -> None:
    """Give a file its name unless another one has got it meanwhile."""
    try:
        os.link(aside, path)  # fails where there is a file already, unlike renaming
    except FileExistsError:
        raise
    except (OSError, AttributeError):
        # No hard links here: take the name with an empty file of our own, and then put ours in its place.
        os.close(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
        os.replace(aside, path)
