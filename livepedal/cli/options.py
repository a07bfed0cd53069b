"""The options that several commands have: one table, from which parsers are made and commands are written out."""

from __future__ import annotations

import argparse
import shlex
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Option:
    """One option. name: as it is typed; kind: of its value, bool where it has none; shown: what stands for the value in
    the help; default: its value where nobody gives it; again: it may be given again; key: of its value, where that is
    not its name; telling: it only says how something is told, so that no verdict hangs on it; choosing: it says what of
    a file is judged, not how.
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

    @property
    def dest(self) -> str:
        """The name of its value in what a parser returns."""
        return self.key or self.name.removeprefix("--").replace("-", "_")

    @property
    def unset(self) -> object:
        """Its value where nobody gives it."""
        return False if self.kind is bool else [] if self.again else self.default

    def add(self, parser: argparse.ArgumentParser) -> None:
        """Add it to a parser."""
        more: dict[str, Any] = {"action": "store_true"}
        if self.kind is not bool:
            more = {"metavar": self.shown, "type": self.kind, "default": self.unset}
            more |= {"action": "append"} if self.again else {}
        parser.add_argument(self.name, dest=self.dest, help=self.help, **more)


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


def add(parser: argparse.ArgumentParser, *groups: Sequence[Option]) -> None:
    """Add groups of options to a parser."""
    for group in groups:
        for option in group:
            option.add(parser)


def harp_options(parser: argparse.ArgumentParser) -> None:
    """The options for the player, the harp and the judging, for files and live."""
    add(parser, HARP)
    debug_option(parser)


def debug_option(parser: argparse.ArgumentParser) -> None:
    """The option for finding faults in livepedal."""
    DEBUG.add(parser)


def plain_option(parser: argparse.ArgumentParser) -> None:
    """The option of every command that writes a report as text."""
    parser.add_argument("--plain", action="store_true", help="no colour, no box characters")


def common_options(parser: argparse.ArgumentParser) -> None:
    """The options of every command that judges files."""
    harp_options(parser)
    add(parser, PARTS)


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
