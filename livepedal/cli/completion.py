"""`completion`: the few lines that teach a shell to complete livepedal's commands, options and files.

argcomplete does it all, for bash, zsh, fish and PowerShell; it is an extra, since nothing else needs it.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterable
from typing import Any

from livepedal.cli.many import MIDI_ENDINGS
from livepedal.errors import LivepedalError

SHELLS = ("bash", "zsh", "fish", "powershell")
_MIDI = (*MIDI_ENDINGS, ".MID")  # shells tell MID from mid
_FILES = {"FILE": _MIDI, "BEFORE": _MIDI, "AFTER": _MIDI, "JOURNAL": ("journal",)}
_NAMES = {"--player": ("relaxed", "working", "virtuoso"), "--harp": ("47", "46", "44", "40")}
_MISSING = "Shell completion needs argcomplete: pip install 'livepedal[completion]' adds it."


def add_commands(commands: argparse._SubParsersAction[Any]) -> None:
    """Add the parser of the command."""
    completion = commands.add_parser(
        "completion",
        help="print the shell completion for livepedal",
        description="Print the shell code that completes livepedal's commands, options and files with the Tab key.",
        epilog='bash, zsh: eval "$(livepedal completion bash)" in ~/.bashrc or ~/.zshrc;'
        " fish: livepedal completion fish > ~/.config/fish/completions/livepedal.fish",
        allow_abbrev=False,
    )
    completion.add_argument("shell", choices=SHELLS, metavar="SHELL", help=", ".join(SHELLS))
    completion.set_defaults(run=_completion)


def _completion(options: argparse.Namespace) -> int:
    try:
        from argcomplete.shell_integration import shellcode
    except ModuleNotFoundError:
        raise LivepedalError(_MISSING) from None
    sys.stdout.write(shellcode(["livepedal"], shell=options.shell))
    return 0


def complete(parser: argparse.ArgumentParser) -> None:
    """Answer the shell and end; returns only if there is no answer."""
    try:
        import argcomplete
    except ModuleNotFoundError:
        return
    _prepare(parser)
    argcomplete.autocomplete(parser)


def _prepare(parser: argparse.ArgumentParser) -> None:
    """Say which arguments are files, of which kind, and which take names."""
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for sub in action.choices.values():
                _prepare(sub)
            continue
        action.completer = _completer(parser, action)  # type: ignore[attr-defined]


def _completer(
    parser: argparse.ArgumentParser, action: argparse.Action
) -> Callable[..., Iterable[str]] | None:
    """What an argument can be completed with; None leaves it to argcomplete."""
    from argcomplete.completers import FilesCompleter

    from livepedal import bundled

    for option in action.option_strings:
        if option in _NAMES:
            return lambda **_: _NAMES[option]
        if option == "--figures":
            return FilesCompleter(("toml",))
    if not isinstance(action.metavar, str) or action.metavar not in _FILES:
        return None
    files = FilesCompleter(_FILES[action.metavar])
    if not parser.prog.endswith(" replay"):
        return files
    recordings = [path.stem for path in bundled.recordings()]
    return lambda prefix, **more: [*recordings, *files(prefix, **more)]
