"""A project's own defaults: the file livepedal.toml in the folder of the exports, or in one above it.

It says what would else have to be typed each time: who plays on what, how bars and octaves are counted, and which
tracks of which files are the harp's. What is typed counts more.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from livepedal.cli.options import FORMS, HARP, PARTS
from livepedal.errors import LivepedalError
from livepedal.sources.text import clean

NAME = "livepedal.toml"
# What can be set; each is the option of that name.
KEYS = (
    *("player", "harp", "figures", "start", "middle-c", "first-bar", "transpose", "ignore-below", "merge"),
    *("fail-on", "accept"),
)
_OPTIONS = {option.name.removeprefix("--"): option for option in (*HARP, *PARTS, *FORMS)}
TRACKS = "tracks"
_KINDS = {str: "a text in quotes", int: "a whole number", bool: "true or false"}


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

    @contextmanager
    def named(self, key: str, value: object) -> Iterator[None]:
        """Name the file in the error about a value that stands in it."""
        try:
            yield
        except LivepedalError as error:
            if (key, value) not in self.values:
                raise
            raise LivepedalError(f"{clean(str(self.file), 500)}: {key}: {error}") from None


def applied(
    parser: argparse.ArgumentParser, options: argparse.Namespace, arguments: Sequence[str]
) -> argparse.Namespace:
    """The options once more, with the project's defaults where nothing was typed.

    Raises LivepedalError for a file that cannot be read or has something in it that cannot be.
    """
    project = project_for(options.run.folder(options))
    values = {_OPTIONS[key].dest: value for key, value in project.values}
    options.parser.set_defaults(**{key: value for key, value in values.items() if hasattr(options, key)})
    again = parser.parse_args(arguments)
    again.project = project
    return again


def project_for(folder: str) -> Project:
    """The project that a folder belongs to. Raises LivepedalError as `read` does."""
    here = Path(os.path.abspath(folder))
    for place in (here, *here.parents):
        if os.path.isfile(place / NAME):
            return read(place / NAME)
    return Project()


def read(file: Path) -> Project:
    """A project's file. Raises LivepedalError, with the nearest key for one that there is not."""
    import tomllib
    from difflib import get_close_matches

    name = clean(str(file), 500)
    try:
        table: dict[str, Any] = tomllib.loads(file.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise LivepedalError(f"{name}: cannot be read as TOML ({clean(str(error))}).") from None
    values: list[tuple[str, object]] = []
    for key, value in table.items():
        if key == TRACKS:
            continue
        if key not in KEYS:
            known = [*KEYS, TRACKS]
            near = get_close_matches(key, known, 1)
            meant = f"did you mean {near[0]}?" if near else f"the options are {', '.join(known)}."
            raise LivepedalError(f"{name}: there is no option {clean(key, 40)}; {meant}")
        kind = _OPTIONS[key].kind
        if key == "harp" and type(value) is int:
            value = str(value)
        if type(value) is not kind:
            raise LivepedalError(f"{name}: {key} takes {_KINDS[kind]}, not {clean(repr(value), 60)}.")
        if key in ("figures", "accept"):
            value = str(file.parent / str(value))
        values.append((key, value))
    return Project(file, tuple(values), _tracks(table.get(TRACKS, {}), name))


def _tracks(table: object, name: str) -> tuple[tuple[str, tuple[str, ...]], ...]:
    wrong = LivepedalError(
        f'{name}: [{TRACKS}] takes patterns of file names with the harp\'s tracks, such as "*cue*.mid" = ["Harp", 3].'
    )
    if not isinstance(table, dict):
        raise wrong
    found: list[tuple[str, tuple[str, ...]]] = []
    for pattern, tracks in table.items():
        some = tracks if isinstance(tracks, list) else [tracks]
        if not some or not all(isinstance(one, str) or type(one) is int for one in some):
            raise wrong
        found.append((pattern, tuple(map(str, some))))
    return tuple(found)


def shown(options: argparse.Namespace) -> str:
    """What the defaults of a command are, and where each comes from, as TOML."""
    import json

    project: Project = options.project
    set_here = dict(project.values)
    where = f"# {clean(str(project.file), 500)}" if project.file else f"# there is no {NAME} here or above"
    lines = [where]
    for key in KEYS:
        option = _OPTIONS[key]
        if not hasattr(options, option.dest):
            continue
        value = set_here.get(key, option.unset)
        text = "" if value is None else json.dumps(value, ensure_ascii=False)
        lines.append(f"{key} = {text}" if key in set_here else f"# {key} = {text}".rstrip())
    if project.tracks:
        lines.append(f"[{TRACKS}]")
        lines += [
            f"{json.dumps(pattern, ensure_ascii=False)} = {json.dumps(tracks, ensure_ascii=False)}"
            for pattern, tracks in project.tracks
        ]
    return "\n".join(clean(line, 1000) for line in lines) + "\n"
