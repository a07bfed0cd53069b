"""`completion`: the few lines that teach a shell to complete livepedal's commands, options and files.

argcomplete does it all, for bash, zsh, fish and PowerShell; it is an extra, since nothing else needs it.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterable
from contextlib import suppress

from livepedal import bundled
from livepedal.cli.commands import Added
from livepedal.cli.files import MIDI_ENDINGS
from livepedal.cli.options import Option
from livepedal.errors import LivepedalError

_MIDI = (*MIDI_ENDINGS, ".MID")  # shells tell MID from mid
_FILES = {"FILE": _MIDI, "BEFORE": _MIDI, "AFTER": _MIDI, "JOURNAL": ("journal",)}
_NAMES = {"--player": ("relaxed", "working", "virtuoso"), "--harp": ("47", "46", "44", "40")}
_MISSING = "Shell completion needs argcomplete: pip install 'livepedal[completion]' adds it."


def completion(options: argparse.Namespace) -> int:
    """Print the shell code."""
    try:
        from argcomplete.shell_integration import shellcode
    except ModuleNotFoundError:
        raise LivepedalError(_MISSING) from None
    sys.stdout.write(shellcode(["livepedal"], shell=options.shell))
    return 0


def complete(parser: Callable[[Added], argparse.ArgumentParser]) -> None:
    """Answer the shell and end; returns only if there is no answer. parser: makes it."""
    with suppress(ModuleNotFoundError):
        import argcomplete

        argcomplete.autocomplete(parser(prepared))


def prepared(command: str, option: Option, action: argparse.Action) -> None:
    """Say what an option of a command can be completed with, where it is a name, or a file of some kind."""
    completer = _completer(command, option)
    if completer is not None:
        action.completer = completer  # type: ignore[attr-defined]


def _completer(command: str, option: Option) -> Callable[..., Iterable[str]] | None:
    from argcomplete.completers import FilesCompleter

    if option.name in _NAMES:
        return lambda **_: _NAMES[option.name]
    if option.name == "--figures":
        return FilesCompleter(("toml",))
    if option.shown not in _FILES:
        return None
    files = FilesCompleter(_FILES[option.shown])
    if command != "replay":
        return files
    recordings = [path.stem for path in bundled.recordings()]
    return lambda prefix, **more: [*recordings, *files(prefix, **more)]
