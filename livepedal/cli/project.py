"""A project's own defaults: the file livepedal.toml in the folder of the exports, or in one above it.

It says what would else have to be typed each time: who plays on what, how bars and octaves are counted, and which
tracks of which files are the harp's. What is typed counts more.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from livepedal.cli.options import ACCEPT, FAIL_ON, FIRST_BAR, HARP, NOTES
from livepedal.errors import LivepedalError, nearest
from livepedal.sources.text import clean

NAME = "livepedal.toml"
# What can be set, in the order in which it is shown, with the option of that name.
_OPTIONS = {
    option.name.removeprefix("--"): option
    for option in (*HARP, FIRST_BAR, *NOTES, FAIL_ON, ACCEPT)
    if not option.repeats
}
TRACKS = "tracks"
_KINDS = {str: "a text in quotes", int: "a whole number", bool: "true or false"}
Value = TypeVar("Value")


@dataclass(frozen=True, slots=True)
class Project:
    """The defaults of a project.

    Attributes:
        file: where they stand, None where there is none.
        values: by the names of options.
        tracks: patterns of file names, with the tracks (names or numbers) that are the harp's there.
    """

    file: Path | None = None
    values: tuple[tuple[str, object], ...] = ()
    tracks: tuple[tuple[str, tuple[str, ...]], ...] = ()

    def tracks_of(self, path: str) -> tuple[str, ...]:
        """The tracks of the first pattern that matches the file's name; none if no pattern does."""
        from fnmatch import fnmatchcase

        name = os.path.basename(path)
        return next((tracks for pattern, tracks in self.tracks if fnmatchcase(name, pattern)), ())


def understood(options: argparse.Namespace, key: str, read: Callable[[Any], Value]) -> Value:
    """What the value of an option means.

    Args:
        options: of the command.
        key: the option's name without dashes.
        read: the meaning of a value; raises LivepedalError for a wrong one.

    Raises:
        LivepedalError: for a wrong value; it names livepedal.toml where the value stands there.
    """
    value = getattr(options, key.replace("-", "_"))
    try:
        return read(value)
    except LivepedalError as error:
        project: Project = options.project
        if (key, value) not in project.values:
            raise
        text = str(error).replace(f"--{key}", key)
        if not text.startswith(key):
            text = f"{key}: {text[0].lower()}{text[1:]}"
        raise LivepedalError(f"{clean(str(project.file), 500)}: {text}") from None


def applied(
    parser: argparse.ArgumentParser, options: argparse.Namespace, arguments: Sequence[str]
) -> argparse.Namespace:
    """The options once more, with the project's defaults where nothing was typed.

    Raises:
        LivepedalError: for a file that cannot be read or has something in it that cannot be.
    """
    project = project_for(options.run.folder(options))
    values = {_OPTIONS[name].key: value for name, value in project.values}
    options.parser.set_defaults(**{key: value for key, value in values.items() if hasattr(options, key)})
    options.parser.set_defaults(project=project)
    return parser.parse_args(arguments)


def project_for(folder: str) -> Project:
    """The project that a folder belongs to. Raises LivepedalError as `read` does."""
    here = Path(os.path.abspath(folder))
    for place in (here, *here.parents):
        if os.path.isfile(place / NAME):
            return read(place / NAME)
    return Project()


def read(file: Path) -> Project:
    """A project's file. Raises LivepedalError, with the nearest key for one that there is not."""
    from livepedal.harp import layers

    name = clean(str(file), 500)
    table = layers.read(file, name, float)
    tracks = _tracks(table.pop(TRACKS, {}), name)
    for key, value in table.items():
        if key not in _OPTIONS:
            known = [*_OPTIONS, TRACKS]
            meant = nearest(key, known, f"; the options are {', '.join(known)}.")
            raise LivepedalError(f"{name}: there is no option {clean(key, 40)}{meant}")
        kind = _OPTIONS[key].kind
        if key == "harp" and type(value) is int:
            table[key] = str(value)
        elif type(value) is not kind:
            raise LivepedalError(f"{name}: {key} takes {_KINDS[kind]}, not {clean(repr(value), 60)}.")
        elif key in ("figures", "accept"):
            table[key] = str(file.parent / str(value))
    return Project(file, tuple(table.items()), tracks)


def _tracks(table: object, name: str) -> tuple[tuple[str, tuple[str, ...]], ...]:
    patterns = table if isinstance(table, dict) else {"": None}
    found = {
        pattern: tracks if isinstance(tracks, list) else [tracks] for pattern, tracks in patterns.items()
    }
    if not all(tracks and all(type(track) in (str, int) for track in tracks) for tracks in found.values()):
        raise LivepedalError(
            f"{name}: [{TRACKS}] takes patterns of file names with the harp's tracks, such as"
            ' "*cue*.mid" = ["Harp", 3].'
        )
    return tuple((pattern, tuple(map(str, tracks))) for pattern, tracks in found.items())


def shown(options: argparse.Namespace) -> str:
    """What the defaults of a command are, and where each comes from, as TOML."""
    import json

    def text(value: object) -> str:
        return "" if value is None else json.dumps(value, ensure_ascii=False)

    project: Project = options.project
    set_here = dict(project.values)
    lines = [f"# {project.file}" if project.file else f"# there is no {NAME} here or above"]
    for name, option in _OPTIONS.items():
        if name in set_here:
            lines.append(f"{name} = {text(set_here[name])}")
        elif hasattr(options, option.key):
            lines.append(f"# {name} = {text(option.unset)}".rstrip())
    if project.tracks:
        lines.append(f"[{TRACKS}]")
        lines += [f"{text(pattern)} = {text(tracks)}" for pattern, tracks in project.tracks]
    return "".join(f"{clean(line, 1000)}\n" for line in lines)
