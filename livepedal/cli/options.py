"""The options that several commands have: one table, from which parsers are made (commands.py) and commands are written
out.
"""

from __future__ import annotations

import argparse
import shlex
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Option:
    """One option, or an argument without dashes.

    Attributes:
        name: as it is typed.
        shown: what stands for the value in the help.
        kind: of its value, bool where it has none.
        default: its value where nobody gives it.
        again: it may be given again.
        key: of its value, where that is not its name.
        telling: it only says how something is told, so that no verdict hangs on it.
        choosing: it says what of a file is judged, not how.
        number: of values, as argparse has it: "?", "+" or "*".
        apart: at most one of those with the same word can be given.
    """

    name: str
    help: str
    shown: str | None = None
    kind: type = str
    default: object = None
    again: bool = False
    key: str = ""
    telling: bool = False
    choosing: bool = False
    short: str = ""
    number: str | None = None
    choices: tuple[str, ...] | None = None
    required: bool = False
    apart: str = ""

    @property
    def dest(self) -> str:
        """The name of its value in what a parser returns."""
        return self.key or self.name.removeprefix("--").replace("-", "_")

    @property
    def unset(self) -> object:
        """Its value where nobody gives it."""
        return False if self.kind is bool else [] if self.again else self.default

    def add(self, parser: argparse._ActionsContainer) -> argparse.Action:
        """Add it to a parser."""
        if self.kind is bool:
            return parser.add_argument(self.name, dest=self.dest, help=self.help, action="store_true")
        more: dict[str, Any] = {"metavar": self.shown, "type": self.kind, "help": self.help}
        more |= {"default": self.unset, "choices": self.choices}
        more |= {"nargs": self.number} if self.number else {}
        if not self.name.startswith("-"):
            return parser.add_argument(self.name, **more)
        more |= {"action": "append"} if self.again else {}
        names = filter(None, (self.short, self.name))
        return parser.add_argument(*names, dest=self.dest, required=self.required, **more)


FILE = Option("file", "MIDI file, or - for standard input", "FILE")
PLAIN = Option("--plain", "no colour, no box characters", kind=bool, telling=True)
PLAIN_LINES = Option("--plain", "one line for each finding instead of the dashboard", kind=bool)
FORCE = Option("--force", "replace files that already exist", kind=bool, telling=True)
HARP = (
    Option("--player", "relaxed, working (default) or virtuoso", "NAME", default="working"),
    Option("--harp", "47 (default), 46, 44 or 40 strings", "NAME", default="47"),
    Option("--figures", "TOML file with your own figures of players and harps", "FILE"),
    Option("--start", 'how the pedals stand at the start: "Db C Bb Eb F G Ab" or "Eb major"', "SETTING"),
    Option(
        "--only",
        "judge only this layer: pedals, hands, strings or load; may be repeated",
        "LAYER",
        again=True,
    ),
    Option(
        "--middle-c",
        "the name of middle C: C4 (default), C3 or C5, as in your sequencer",
        "NAME",
        default="C4",
    ),
)
DEBUG = Option("--debug", "show tracebacks", kind=bool, telling=True)
PARTS = (
    Option("--track", "the harp's track; may be repeated", "NUMBER_OR_NAME", again=True, choosing=True),
    Option(
        "--merge",
        "judge all harp tracks as one harp; if there is none, all tracks but drums",
        kind=bool,
        choosing=True,
    ),
    Option(
        "--program",
        "only the notes under this program, 0 to 127 (the harp's is 46); may be repeated",
        "N",
        int,
        again=True,
        choosing=True,
    ),
    Option(
        "--channel",
        "only this MIDI channel, 1 to 16; may be repeated",
        "N",
        int,
        again=True,
        choosing=True,
    ),
    Option("--transpose", "judge it N semitones higher (lower: -N)", "N", int, 0, choosing=True),
    Option(
        "--ignore-below",
        "leave out the notes below this one, such as C2 or a MIDI number (for keyswitches)",
        "NOTE",
        choosing=True,
    ),
    Option("--first-bar", "number of the first bar (0 with a pickup)", "N", int, 1),
)
SPELLING = (
    Option(
        "--spell",
        'use this spelling: "3-7: Fb major", "12: Fx", "1-4: Db Cb Bb Eb Fb Gb Ab"; may be repeated',
        '"BARS: SPELLING"',
        again=True,
    ),
    Option("--spell-file", "text file with one such spelling on each line", "FILE"),
    Option("--as-written", "spell as the key signatures of the file do", kind=bool),
    Option(
        "--as-marked",
        "proofread the pedal changes in the file's own texts, such as --marked writes (always done for a score)",
        kind=bool,
        telling=True,
    ),
)
ADVICE = (
    Option(
        "--remedies",
        "say what would make it playable: the best remedy for each place",
        kind=bool,
        telling=True,
    ),
    Option("--all", "show every finding and every remedy", kind=bool, telling=True),
    Option(
        "--sheet",
        "only the setting and the pedal changes, as text or with --page; with --json, add the spelling sheet",
        kind=bool,
        telling=True,
    ),
    Option(
        "--from",
        "judge from this bar on, with the pedals set as --start says (default: as suits the music best)",
        "BAR",
        int,
        key="from_bar",
    ),
)


FORMS = (
    Option("--json", "write the report as JSON (format livepedal-check)", kind=bool, apart="form"),
    Option(
        "--jsonl",
        "the same as JSON lines: one line for each file as soon as it is judged",
        kind=bool,
        apart="form",
    ),
    Option("--csv", "write a row for each finding, as comma-separated values", kind=bool, apart="form"),
    Option("--full", "the whole report for each of several files, not one line", kind=bool, apart="form"),
    Option("--jobs", "use N processes (0: one per core; default 1)", "N", int, 1),
    Option(
        "--fail-on",
        "exit code 1 on: unplayable, virtuoso (and worse), audible (and worse), or printed (slips in a printed"
        " pedalling)",
        "WHAT",
    ),
    Option(
        "--accept",
        "accept all findings by writing them to this file; if it exists, fail only on new ones",
        "FILE.json",
    ),
    Option("--quiet", "only one line for each file that fails", kind=bool),
)
BESIDE = (
    Option(
        "--marked",
        "write the same music with markers at the findings and the pedal changes as texts; for a score,"
        " OUT.musicxml or OUT.mxl with the pedal changes printed",
        "OUT.mid",
    ),
    Option(
        "--changes-as",
        "with --marked: write the pedal changes as texts (default), markers or lyrics",
        "WHAT",
    ),
    Option(
        "--pedals",
        "with --marked of a score: write each pedal change as words (default) or diagrams",
        "HOW",
    ),
    Option(
        "--findings",
        "with --marked of a score: show the findings too, as words above the staff and coloured notes",
        kind=bool,
    ),
    FORCE,
    Option("--page", "write the report as one HTML page, with a timeline of the part", "OUT.html"),
)
BACKEND = Option(
    "--backend", "MIDI system: alsa, jack, coremidi or winmm (default: the first that answers)", "NAME"
)
_PORT = 'part of its name, or "virtual" for one of livepedal\'s own'
OUTPUT = Option("--output", f"MIDI output on which the key a plays a passage again: {_PORT}", "PORT")
OUTPUTS = (
    Option("--through", f"pass on everything you play to this MIDI output: {_PORT}", "PORT"),
    Option(
        "--answer",
        "send a message to this MIDI output when an attack becomes unplayable, and another when a passage has"
        f" gone well: {_PORT}",
        "PORT",
    ),
    Option("--bell", "ring the terminal's bell when an attack becomes unplayable", kind=bool),
    OUTPUT,
)


def check_command(file: str, values: Mapping[str, object]) -> str:
    """The command that judges a file as it was judged with these values of the options of `check`, by their names as
    argparse has them. What is not among them, or is as it is when nobody says anything, is left out.
    """
    return shlex.join(["livepedal", "check", *given(values), file])


def remedies_command(file: str, values: Mapping[str, object]) -> str:
    """The command that finds remedies for a new file, with the options of the file that it was made from."""
    choosing = {option.dest for option in PARTS if option.choosing}
    how = {name: value for name, value in values.items() if name not in choosing}
    return shlex.join(["livepedal", "check", "--remedies", *given(how), file])


def given(values: Mapping[str, object]) -> list[str]:
    """The options that can change a verdict, a name or a number in the report, as they are typed."""
    words: list[str] = []
    for option in (*HARP, *PARTS, *SPELLING, *ADVICE):
        value = values.get(option.dest, option.unset)
        if option.telling or value == option.unset:
            continue
        if value is True:
            words.append(option.name)
            continue
        some = value if isinstance(value, Sequence) and not isinstance(value, str) else (value,)
        for value in map(str, some):
            # A value that starts with a dash would be taken for an option.
            words += [f"{option.name}={value}"] if value.startswith("-") else [option.name, value]
    return words
