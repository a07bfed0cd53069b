"""The options that several commands have.

From this one table parsers are made (commands.py) and commands are written out.
"""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any, TypeVar

from livepedal import defaults
from livepedal.errors import LivepedalError
from livepedal.sources.text import shell_line

Choice = TypeVar("Choice", bound=StrEnum)


@dataclass(frozen=True, slots=True)
class Option:
    """One option, or an argument without dashes.

    Attributes:
        name: as it is typed, a short one before it: "-o/--output".
        shown: what stands for the value in the help.
        kind: of its value, bool where it has none.
        default: its value where nobody gives it.
        repeats: it may be given again, so that its value is a list.
        more: what else argparse is told, by its own names.
    """

    name: str
    help: str
    shown: str | None = None
    kind: type = str
    default: object = None
    repeats: bool = False
    more: Mapping[str, Any] = field(default_factory=dict)

    @property
    def key(self) -> str:
        """The name of its value in what a parser returns."""
        return self.more.get("dest") or self.name.rpartition("/")[2].removeprefix("--").replace("-", "_")

    @property
    def unset(self) -> object:
        """Its value where nobody gives it."""
        return False if self.kind is bool else [] if self.repeats else self.default

    def add(self, parser: argparse._ActionsContainer) -> argparse.Action:
        """Add it to a parser."""
        how: dict[str, Any] = {"help": self.help, "default": self.unset, **self.more}
        if self.repeats:
            how["action"] = "append"
        how |= {"action": "store_true"} if self.kind is bool else {"metavar": self.shown, "type": self.kind}
        return parser.add_argument(*self.name.split("/"), **how)


def flag(name: str, help: str) -> Option:
    """An option without a value."""
    return Option(name, help, kind=bool)


FILE = Option("file", "MIDI file, or - for standard input", "FILE")
PLAIN = flag("--plain", "no colour, no box characters")
PLAIN_LINES = flag("--plain", "one line for each finding instead of the dashboard")
DEBUG = flag("--debug", "show tracebacks")
FORCE = flag("--force", "replace files that already exist")
JSON = flag("--json", "write the report as JSON (format livepedal-check)")
HARP = (
    Option("--player", "relaxed, working (default) or virtuoso", "NAME", default=defaults.PLAYER),
    Option("--harp", "47 (default), 46, 44 or 40 strings", "NAME", default=defaults.HARP),
    Option("--figures", "TOML file with your own figures of players and harps", "FILE"),
    Option("--start", 'how the pedals stand at the start: "Db C Bb Eb F G Ab" or "Eb major"', "SETTING"),
    Option(
        "--only",
        "judge only this layer: pedals, hands, strings or load; may be repeated",
        "LAYER",
        repeats=True,
    ),
    Option(
        "--middle-c",
        "the name of middle C: C4 (default), C3 or C5, as in your sequencer",
        "NAME",
        default="C4",
    ),
)
# What of a file is judged.
NOTES = (
    Option("--track", "the harp's track; may be repeated", "NUMBER_OR_NAME", repeats=True),
    flag("--merge", "judge all harp tracks as one harp; if there is none, all tracks but drums"),
    Option(
        "--program",
        "only the notes under this program, 0 to 127 (the harp's is 46); may be repeated",
        "N",
        int,
        repeats=True,
    ),
    Option("--channel", "only this MIDI channel, 1 to 16; may be repeated", "N", int, repeats=True),
    Option("--transpose", "judge it N semitones higher (lower: -N)", "N", int, 0),
    Option(
        "--ignore-below",
        "leave out the notes below this one, such as C2 or a MIDI number (for keyswitches)",
        "NOTE",
    ),
)
FIRST_BAR = Option("--first-bar", "number of the first bar (0 with an upbeat)", "N", int, 1)
SPELLING = (
    Option(
        "--spell",
        'use this spelling: "3-7: Fb major", "12: Fx", "1-4: Db Cb Bb Eb Fb Gb Ab"; may be repeated',
        '"BARS: SPELLING"',
        repeats=True,
    ),
    Option("--spell-file", "text file with one such spelling on each line", "FILE"),
    flag("--as-written", "spell as the key signatures of the file do"),
)
AS_MARKED = flag(
    "--as-marked",
    "proofread the pedal changes in the file's own texts, such as --marked writes (always done for a score)",
)
FROM = Option(
    "--from",
    "judge from this bar on, with the pedals set as --start says (default: as suits the music best)",
    "BAR",
    int,
    more={"dest": "from_bar"},
)
FAIL_ON = Option(
    "--fail-on",
    "exit code 1 on: unplayable, virtuoso (and worse), audible (and worse), or printed (slips in a printed pedalling)",
    "WHAT",
)
ACCEPT = Option(
    "--accept",
    "accept all findings by writing them to this file; if it exists, fail only on new ones",
    "FILE.json",
)
# All that a verdict, a name or a number in the report hangs on.
DECIDING = (*HARP, *NOTES, FIRST_BAR, *SPELLING, FROM)
BACKEND = Option(
    "--backend", "MIDI system: alsa, jack, coremidi or winmm (default: the first that answers)", "NAME"
)
PORT = 'part of its name, or "virtual" for one of livepedal\'s own'
OUTPUT = Option("--output", f"MIDI output on which the key a plays a passage again: {PORT}", "PORT")


def one_of(known: type[Choice], text: str | None, option: str) -> Choice | None:
    """What an option chooses; None where it is not given. Raises LivepedalError for a text that it does not know."""
    try:
        return None if text is None else known(text.strip().lower())
    except ValueError:
        raise LivepedalError(f"{option} does not know {text!r}; it takes {', '.join(known)}.") from None


def check_command(file: str, values: Mapping[str, object]) -> str:
    """The command that judges a file as it was judged.

    Args:
        file: its path, or - for standard input.
        values: of options of `check`, by their keys; what is not among them, or as it is when nobody says anything, is
            left out.
    """
    return shell_line("livepedal", "check", *given(values), file)


def remedies_command(file: str, values: Mapping[str, object]) -> str:
    """The command that finds remedies for a new file, with the options of the file that it was made from."""
    chosen = {option.key for option in NOTES}  # the new file has only these notes
    how = {key: value for key, value in values.items() if key not in chosen}
    return shell_line("livepedal", "check", "--remedies", *given(how), file)


def given(values: Mapping[str, object]) -> list[str]:
    """The options that decide a verdict, a name or a number in the report, as they are typed."""
    words: list[str] = []
    for option in DECIDING:
        value = values.get(option.key, option.unset)
        if value == option.unset:
            continue
        if option.kind is bool:
            words.append(option.name)
            continue
        for text in map(str, value if isinstance(value, list) else [value]):
            # A value that starts with a dash would be taken for an option.
            words += [f"{option.name}={text}"] if text.startswith("-") else [option.name, text]
    return words
