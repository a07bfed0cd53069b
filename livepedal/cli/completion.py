"""`completion`: the few lines that teach a shell to complete livepedal's commands, options and files.

argcomplete does it all, for bash, zsh, fish and PowerShell; it is an extra, since nothing else needs it.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterable
from contextlib import suppress

from livepedal import bundled
from livepedal.cli.files import MIDI_ENDINGS
from livepedal.cli.options import Option
from livepedal.defaults import HARPS, PLAYERS
from livepedal.errors import LivepedalError

_NAMES = {"--player": PLAYERS, "--harp": HARPS}
_MIDI = (*MIDI_ENDINGS, ".MID")  # shells tell MID from mid
_FILES = {"FILE": _MIDI, "BEFORE": _MIDI, "AFTER": _MIDI, "JOURNAL": ("journal",)}


def completion(options: argparse.Namespace) -> int:
    """Print the shell code."""
    try:
        from argcomplete.shell_integration import shellcode
    except ModuleNotFoundError:
        raise LivepedalError(
            "Shell completion needs argcomplete: pip install 'livepedal[completion]' adds it."
        ) from None
    sys.stdout.write(shellcode(["livepedal"], shell=options.shell))
    return 0


def complete(parser: argparse.ArgumentParser) -> None:
    """Answer the shell and end; returns only if argcomplete is missing."""
    with suppress(ModuleNotFoundError):
        import argcomplete

        argcomplete.autocomplete(parser)


def completer(option: Option) -> Callable[..., Iterable[str]] | None:
    """What completes the beginning of a name or of a file; None for options that take something else."""
    if option.name in _NAMES:
        return lambda **_: _NAMES[option.name]
    endings = ("toml",) if option.name == "--figures" else _FILES.get(option.shown or "")
    if endings is None:
        return None

    def files(prefix: str, **more: object) -> Iterable[str]:
        from argcomplete.completers import FilesCompleter

        recordings = [path.stem for path in bundled.recordings()] if option.name == "file" else []
        return [*recordings, *FilesCompleter(endings)(prefix, **more)]

    return files
