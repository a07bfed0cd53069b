"""MIDI inputs: `ports` lists them, and `listen` opens those that are chosen, by name, by being the only ones, by
having been chosen the last time, or by number when it asks.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from livepedal.cli.options import debug_option
from livepedal.cli.output import Output
from livepedal.errors import LivepedalError

if TYPE_CHECKING:
    from livepedal.sources.ports import Inputs


def add_commands(commands: argparse._SubParsersAction[Any]) -> None:
    """Add the parser of `ports`."""
    ports = commands.add_parser(
        "ports",
        help="list the MIDI inputs",
        description="List the MIDI inputs that livepedal listen can open.",
        allow_abbrev=False,
    )
    backend_option(ports)
    debug_option(ports)
    ports.set_defaults(run=_ports)


def backend_option(parser: argparse.ArgumentParser) -> None:
    """The option that says which MIDI system is asked."""
    parser.add_argument(
        "--backend",
        metavar="NAME",
        help="MIDI system: alsa, jack, coremidi or winmm (default: the first that answers)",
    )


def _ports(options: argparse.Namespace) -> int:
    from livepedal.sources.ports import ELSEWHERE, Inputs, quiet
    from livepedal.sources.text import clean
    from livepedal.views.lines import Tone, line

    with quiet():
        inputs = Inputs(options.backend)
        try:
            names = inputs.names()
        finally:
            inputs.close()
    out = Output(sys.stdout, True)
    if not names:
        raise LivepedalError(
            f"{inputs.backend.label} answers, but there is no MIDI input: plug in a keyboard"
            f"{', or use livepedal listen --virtual' if inputs.backend.virtual else ''}; {ELSEWHERE}."
        )
    out.write([line(f"MIDI inputs ({inputs.backend.label}):")])
    out.write([line(f"  {number}. {clean(name)}") for number, name in enumerate(names, start=1)])
    out.write([line(("Listen to one with: livepedal listen --port NAME", Tone.FAINT))])
    return 0


def choose(inputs: Inputs, options: argparse.Namespace) -> list[str | None]:
    """The names of the inputs to open; None stands for a port of our own.

    Raises LivepedalError where there is none, or nobody says which one.
    """
    from livepedal.sources.ports import chosen, same_port

    names = inputs.names()
    if options.port or options.virtual:
        found: list[str | None] = list(dict.fromkeys(chosen(names, asked) for asked in options.port))
        if options.port:
            _remember([name for name in found if name is not None])
        return [*found, None] if options.virtual else found
    real = [name for name in names if not name.startswith("Midi Through")]  # ALSA's own loop, not a keyboard
    if len(real) == 1:
        return [real[0]]
    remembered = [name for name in names for known in _remembered() if same_port(name, known)]
    if remembered:
        return list(dict.fromkeys(remembered))
    if not real:
        virtual = ", or let a sequencer send to livepedal listen --virtual" if inputs.backend.virtual else ""
        raise LivepedalError(
            f"{inputs.backend.label} answers, but there is no MIDI input: plug in a keyboard{virtual}."
        )
    if sys.stdin is None or not sys.stdin.isatty():
        raise LivepedalError(f"There are several MIDI inputs: {'; '.join(real)}; choose with --port NAME.")
    name = _asked_for(real)
    _remember([name])
    return [name]


def _asked_for(names: Sequence[str]) -> str:
    from livepedal.sources.text import clean

    for number, name in enumerate(names, start=1):
        print(f"  {number}. {clean(name)}")
    while True:
        # Not by way of input(), which writes its question to standard error, where nothing is shown (`quiet`).
        print(f"Which one, 1 to {len(names)}? ", end="", flush=True)
        answer = sys.stdin.readline()
        if not answer:
            raise LivepedalError("No MIDI input was chosen; choose with --port NAME.")
        answer = answer.strip()
        if answer.isascii() and answer.isdigit() and 1 <= int(answer) <= len(names):
            return names[int(answer) - 1]


def _choice_file() -> Path:
    from platformdirs import user_config_path

    return user_config_path("livepedal", appauthor=False) / "last-ports.json"


def _remember(names: Sequence[str]) -> None:
    # Not being able to remember is no reason not to listen.
    with contextlib.suppress(OSError):
        path = _choice_file()
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(json.dumps(list(names)), "utf-8")


def _remembered() -> list[str]:
    try:
        known = json.loads(_choice_file().read_text("utf-8"))
    except (OSError, ValueError):
        return []
    return [name for name in known if isinstance(name, str)] if isinstance(known, list) else []


def forget() -> None:
    """Forget which inputs were chosen the last time."""
    with contextlib.suppress(OSError):
        _choice_file().unlink()
