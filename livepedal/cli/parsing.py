"""What is typed: the parser, its complaints in words, and the command that is meant.

argparse, since starting must be quick: click takes 20 to 30 ms more to import (28 to 37 against 7 to 9, -X importtime),
has no options that exclude each other, and could replace about 200 lines here at the most.
"""

from __future__ import annotations

import argparse
import ast
import os
import re
import sys
from collections.abc import Sequence
from typing import Any, NoReturn

from livepedal import __version__
from livepedal.cli import commands, completion, files, project
from livepedal.errors import LivepedalError, nearest
from livepedal.sources.text import shell_line


def run(arguments: Sequence[str]) -> int:
    """Do what these arguments ask for. Returns the exit code. Raises LivepedalError where that cannot be done."""
    parser = parser_of_all()
    if "_ARGCOMPLETE" in os.environ:  # a shell asks what could come next
        completion.complete(parser)
    if any(word == "" or (word.startswith("--") and word.endswith("=")) for word in arguments):
        raise LivepedalError(
            "A file name or the value of an option is empty; write it out (in a script: is its variable set?)."
        )
    try:
        os.getcwd()
    except OSError:
        raise LivepedalError("The folder that you are in does not exist any more; go to another one.") from None
    try:
        options = parser.parse_args(arguments)
    except SystemExit:  # help and version
        return 0
    if options.run.folder is not None:
        options = project.applied(parser, options, arguments)
        if options.show_defaults:
            sys.stdout.write(project.shown(options))
            return 0
    code: int = options.run(options)
    return code


class _Parser(argparse.ArgumentParser):
    """An argument parser whose complaints are one sentence like all others."""

    def parse_known_args(self, args: Any = None, namespace: Any = None) -> Any:
        """As argparse does, but what a command does not know is told by that command, which has the help on it."""
        options, left = super().parse_known_args(args, namespace)
        unknown = next((word.partition("=")[0] for word in left if word.startswith("-")), None)
        if unknown is not None:
            if os.path.exists(unknown):
                self.error(f"for the file of this name, type ./{unknown}")
            known = [name.lstrip("-") for name in self._option_string_actions]
            meant = nearest(unknown.lstrip("-"), known).replace("mean ", "mean --")
            self.error(f"there is no option {unknown} here{meant}")
        if left:
            self.error(f"this command does not take {' '.join(left)}")
        return options, left

    def error(self, message: str) -> NoReturn:
        message = in_words(message)
        if not message[:2].isupper():  # the name of an argument stays as it is
            message = message[:1].lower() + message[1:]
        end = f" See {self.prog} --help." if message.endswith("?") else f"; see {self.prog} --help."
        raise LivepedalError(message.rstrip(".") + end)


# What argparse says, and the same for a composer. Anything else is left as it is.
_COMPLAINTS = (
    (r"argument (\S+): invalid int value: (.+)", r"\1 takes a whole number, not \2"),
    (r"argument (\S+): invalid float value: (.+)", r"\1 takes a number, not \2"),
    (r"argument (\S+): expected (?:one|at least one) argument", r"\1 needs a value after it"),
    (r"argument (\S+): not allowed with argument (\S+)", r"\1 and \2 cannot be used together; give one of them"),
    (r"argument (\S+): ignored explicit argument .+", r"\1 takes no value"),
    (r"argument \S+: invalid choice: (.+) \(choose from (.+)\)", r"\1 is none of \2"),
)
# What can be missing, where its name alone does not say it.
_MISSING = {
    "FILE": "a MIDI file",
    "COMMAND": "a command, such as livepedal check FILE",
    "-o/--output": "the new file with -o OUT.mid",
    "BEFORE": "two files, BEFORE",
    "AFTER": "AFTER, the revision",
}


def in_words(message: str) -> str:
    """A complaint of argparse in words for people who do not program."""
    wrong = re.fullmatch(r"argument COMMAND: invalid choice: (.+?) \(choose from .*", message, re.DOTALL)
    if wrong is not None:
        # argparse quotes it as Python does.
        asked = ast.literal_eval(wrong[1])
        if os.path.exists(asked) or files.is_midi(os.path.basename(asked)):
            return f"to judge a file: livepedal check {shell_line(asked)}"
        return f"there is no command {wrong[1]}{nearest(asked, (one.name for one in commands.COMMANDS))}"
    if message.startswith("the following arguments are required: "):
        return "give " + " and ".join(_MISSING.get(name, name) for name in message.partition(": ")[2].split(", "))
    for pattern, words in _COMPLAINTS:
        found = re.fullmatch(pattern, message, re.DOTALL)
        if found is not None:
            return found.expand(words)
    return message


def parser_of_all() -> argparse.ArgumentParser:
    """The parser of all commands."""
    parser = _Parser(
        prog="livepedal",
        description="Can this be played on one pedal harp, and if not, why not?",
        epilog="Try it: livepedal replay",
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"livepedal {__version__}")
    subparsers = parser.add_subparsers(metavar="COMMAND", required=True)
    for command in commands.COMMANDS:
        command.add(subparsers)
    return parser
