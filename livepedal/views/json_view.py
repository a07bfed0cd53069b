"""The report of `check` as JSON (format livepedal-check, version 1), the same bytes whenever it is run.

One file of the report stands on one line, so that it can be written while the next is being judged, and so
that two reports can be compared line by line. Pure ASCII: JSON's own escapes keep names from acting on a
terminal, and a path that is not valid text survives.
"""

from __future__ import annotations

import json
import re
from importlib import resources

from livepedal import __version__
from livepedal.harp import Figures, Instrument, Player


def head(player: Player, instrument: Instrument) -> str:
    """The beginning of every document: the format, the player and the harp; not closed."""
    about = {"format": "livepedal-check", "version": 1, "harp": instrument.name, "player": player.name}
    return dumps(about)[:-1]


def line_head(player: Player, instrument: Instrument, figures: Figures) -> str:
    """The beginning of every line: the same, and the figures it was judged by; not closed."""
    return f'{head(player, instrument)}, "figures": {dumps(figures_used(figures))}'


def figures_used(figures: Figures) -> dict[str, object]:
    """The version of livepedal with these built-in figures, and the figures that differ from them."""
    known = dict(Figures.builtin().stated)
    other = {key: str(value) for key, value in figures.stated if known.get(key) != value}
    return {"version": __version__, "changed": other}


CLOSING = "\n]}\n"  # after the last file


def opening(player: Player, instrument: Instrument) -> str:
    """Everything before the first file."""
    return head(player, instrument) + ', "files": ['


def separated(file: str, first: bool) -> str:
    """One file, already JSON, on its own line."""
    return ("\n" if first else ",\n") + file


def line_text(head: str, file: str, seconds: float) -> str:
    """One file as a document on one line.

    Args:
        head: as `line_head` has it.
        file: the file, already JSON.
        seconds: the processor time it took.
    """
    return f'{head}, "work_seconds": {seconds:.3f}, {file[1:]}\n'


def dumps(value: object) -> str:
    """Any value, of this report or another one, as JSON on one line."""
    return json.dumps(value, ensure_ascii=True, allow_nan=False)


def schema(command: str = "check") -> str:
    """The JSON Schema (draft 2020-12) of what a command writes, as text.

    Definitions that schemas share stand once, in that of `check`.
    """
    files = resources.files(__package__)
    text = files.joinpath("schema.json").read_text(encoding="utf-8")
    if command == "check":
        return text
    shared = json.loads(text)["$defs"]
    own = json.loads(files.joinpath(f"schema_{command}.json").read_text(encoding="utf-8"))
    known = own.setdefault("$defs", {})
    while missing := set(re.findall(r'"#/\$defs/(\w+)"', dumps(own))) - known.keys():
        known |= {name: shared[name] for name in sorted(missing)}
    return json.dumps(own, indent=2, ensure_ascii=False) + "\n"
