"""The recordings that come with livepedal, wherever it is installed.

In a wheel they lie inside the package as `_recordings`; in an editable install or a clone, beside it.
"""

from __future__ import annotations

import os
from pathlib import Path

from livepedal.errors import LivepedalError, nearest

FIRST = "03-paddle-wheel.mid"  # short, and shows a pedal that cannot keep up


def folder() -> Path:
    """Where they lie. Raises LivepedalError in an installation without them."""
    package = Path(__file__).resolve().parent
    for place in (package / "_recordings", package.parent / "recordings"):
        if (place / FIRST).is_file():
            return place
    raise LivepedalError("This installation has no recordings; name a MIDI file of your own.")


def recordings() -> tuple[Path, ...]:
    """All of them, in order of their names; none where the installation has none."""
    try:
        return tuple(sorted(folder().glob("*.mid")))
    except LivepedalError:
        return ()


def path_of(name: str) -> str:
    """The path of what a command is asked for: a file, or else the recording of that name.

    Raises:
        LivepedalError: with the nearest recording, where there is neither and the name looks like a recording's.
    """
    if name == "-" or os.path.exists(name) or name != os.path.basename(name):
        return name
    recording = find(name)
    if recording is None and "." not in name:
        stems = [path.stem for path in recordings()]
        known = [*stems, *(stem.partition("-")[2] for stem in stems)]
        meant = nearest(name, known, f"; the recordings are {', '.join(stems)}.")
        raise LivepedalError(f"{name}: there is no such file, and no recording of that name{meant}")
    return str(recording or name)


def find(name: str) -> Path | None:
    """The recording of this name ("03-paddle-wheel.mid", "03-paddle-wheel" or "paddle-wheel"), or None."""
    wanted = name.removesuffix(".mid").lower()
    for path in recordings():
        if wanted in (path.stem, path.stem.partition("-")[2]):
            return path
    return None
