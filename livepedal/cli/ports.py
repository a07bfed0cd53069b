"""MIDI ports: `ports` lists them, `listen` opens the inputs that are chosen, and `replay` and `listen` the outputs.

Inputs are chosen by name, by being the only ones, by having been chosen the last time, or by number when it asks.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import sys
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

from livepedal.cli.output import Output
from livepedal.errors import LivepedalError
from livepedal.live.plugged import Outs
from livepedal.sources.ports.libraries import quiet
from livepedal.sources.ports.outputs import VIRTUAL, Outputs
from livepedal.sources.ports.sender import Sender
from livepedal.sources.ports.system import ELSEWHERE, Inputs, NoSystem, Ports, chosen, plain_name
from livepedal.sources.text import clean
from livepedal.views.lines import Tone, line
from livepedal.views.plain import wrapped

_LOOK = 0.5  # seconds between two checks for a keyboard


def ports(options: argparse.Namespace) -> int:
    """List the MIDI ports."""
    found: dict[str, list[str]] = {}
    backend = options.backend
    with quiet():
        for kind in (Inputs, Outputs):
            ports: Ports = kind(backend)
            backend = ports.backend.name
            try:
                found[ports.kind] = ports.names()
            finally:
                ports.close()
    out = Output(sys.stdout, True)
    if not any(found.values()):
        raise LivepedalError(
            f"{ports.backend.label} answers, but there is no MIDI port: plug in a keyboard"
            f"{', or use livepedal listen --virtual' if ports.backend.virtual else ''}; {ELSEWHERE}."
        )
    hints = {
        "input": "Listen to one with: livepedal listen --port NAME",
        "output": "Send to one with: livepedal listen --through NAME, --answer NAME or --output NAME",
    }
    for kind_, names in found.items():
        out.write([line(f"MIDI {kind_}s ({ports.backend.label}):{'' if names else ' none'}")])
        out.write([line(f"  {number}. {clean(name)}") for number, name in enumerate(names, start=1)])
        out.write([line((hints[kind_], Tone.FAINT))] if names else [])
    return 0


def choose(inputs: Inputs, options: argparse.Namespace) -> list[str | None]:
    """The names of the inputs to open; None means a port of our own.

    Raises LivepedalError where there is none, or nobody says which one.
    """
    names = inputs.names()
    if asked_for(options):
        found: list[str | None] = list(dict.fromkeys(chosen(names, asked) for asked in options.port))
        if options.port:
            _remember([name for name in found if name is not None])
        return [*found, None] if options.virtual else found
    real = _keyboards(names)
    if len(real) == 1:
        return [real[0]]
    remembered = [name for name in names for known in _remembered() if plain_name(name) == plain_name(known)]
    if remembered:
        return list(dict.fromkeys(remembered))
    if sys.stdin is None or not sys.stdin.isatty():
        raise LivepedalError(f"There are several MIDI inputs: {'; '.join(real)}; choose with --port NAME.")
    wanted = _asked_for(real)
    _remember(wanted)
    return [*wanted]


def asked_for(options: argparse.Namespace) -> bool:
    """Whether the user has said what to listen to."""
    return bool(options.port or options.virtual)


@contextlib.contextmanager
def outputs_opened(options: argparse.Namespace, backend: str | None) -> Iterator[Outs]:
    """The outputs that were asked for; each is opened once, whatever it is for. backend: name of the MIDI system.

    Raises LivepedalError where one cannot be opened.
    """
    known: dict[str, Sender] = {}

    def output_for(role: str) -> Sender | None:
        asked: str | None = getattr(options, role, None)
        if asked is None:
            return None
        name = asked.strip().casefold()
        name += f" {role}" * (name == VIRTUAL)
        if name not in known:
            known[name] = Sender(asked, role, backend)
        return known[name]

    try:
        yield Outs(output_for("through"), output_for("answer"), output_for("output"))
    finally:
        for sender in known.values():
            sender.end()


def _keyboards(names: Sequence[str]) -> list[str]:
    return [name for name in names if not name.startswith("Midi Through")]  # ALSA's own loop, not a keyboard


def waited_for(options: argparse.Namespace, out: Output) -> Inputs:
    """The inputs. Waits, and says so, until there is one to listen to.

    Raises LivepedalError where it was said what to listen to and no MIDI system answers.
    """
    inputs: Inputs | None = None
    said = ""
    try:
        while True:
            try:
                inputs = inputs or Inputs(options.backend)
                inputs.watch()
                if asked_for(options) or _keyboards(inputs.names()):
                    return inputs
                why = f"{inputs.backend.label} answers, but there is no MIDI input"
                virtual = " (--virtual makes a port for a sequencer)" if inputs.backend.virtual else ""
            except NoSystem as error:
                if asked_for(options):
                    raise
                why, virtual = error.why, ""
            if why != said:
                said = why
                text = f"Waiting for a MIDI keyboard: {why}. Plug one in{virtual}, or end with Ctrl-C."
                out.write(wrapped([line(out.signs.write(text))], out.width))
                sys.stdout.flush()
            time.sleep(_LOOK)
    except BaseException:
        if inputs is not None:
            inputs.close()
        raise


def _asked_for(names: Sequence[str]) -> list[str]:
    signs = Output(sys.stdout, True).signs
    for number, name in enumerate(names, start=1):
        print(f"  {number}. {signs.write(clean(name))}")
    while True:
        # Not input(): it writes its question to standard error, which is silenced here (`quiet`).
        print(f"Which one, 1 to {len(names)}? (several with commas, or all)  ", end="", flush=True)
        answer = sys.stdin.readline()
        if not answer:
            raise LivepedalError("No MIDI input was chosen; choose with --port NAME.")
        answer = answer.strip()
        if answer.casefold() == "all":
            return list(names)
        numbers = [
            int(one) if one.isascii() and one.isdigit() else 0 for one in answer.replace(",", " ").split()
        ]
        if numbers and all(1 <= number <= len(names) for number in numbers):
            return [names[number - 1] for number in dict.fromkeys(numbers)]
        wrong = signs.write(clean(answer)) or "Nothing"
        print(f"{wrong} is not an answer; type numbers from 1 to {len(names)}, or all.")


def _choice_file() -> Path:
    from platformdirs import user_config_path

    return user_config_path("livepedal", appauthor=False) / "last-ports.json"


def _remember(names: Sequence[str]) -> None:
    # If the choice cannot be kept, we listen all the same.
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
    """Forget which inputs were chosen last time."""
    with contextlib.suppress(OSError):
        _choice_file().unlink()
