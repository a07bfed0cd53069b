"""What every judging command is asked with: the options, and what they mean, checked before any file is read."""

from __future__ import annotations

import argparse
import os
import shlex
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from livepedal import bundled
from livepedal.errors import LivepedalError

if TYPE_CHECKING:
    from livepedal.advice.judging.report import PartReport
    from livepedal.advice.spelling.given import Wish
    from livepedal.cli.project import Project
    from livepedal.harp import Figures, Instrument, Player, Setting
    from livepedal.model.findings import Layer
    from livepedal.music.choosing import Wanted
    from livepedal.music.song import Part, Song

STDIN = "standard input"
# Far more than is read of a file, so that the reader can say that it is too much.
MAX_STDIN = 256 * 1024 * 1024


def harp_options(parser: argparse.ArgumentParser) -> None:
    """The options that say who plays what harp and how it is judged, for files and live."""
    parser.add_argument(
        "--player", default="working", metavar="NAME", help="relaxed, working (default) or virtuoso"
    )
    parser.add_argument("--harp", default="47", metavar="NAME", help="47 (default), 46, 44 or 40 strings")
    parser.add_argument(
        "--figures", metavar="FILE", help="TOML file with your own figures of players and harps"
    )
    parser.add_argument(
        "--start",
        metavar="SETTING",
        help='how the pedals stand at the start: "Db C Bb Eb F G Ab" or "Eb major"',
    )
    parser.add_argument(
        "--only",
        action="append",
        default=[],
        metavar="LAYER",
        help="judge this alone: pedals, hands, strings or load; may be given again",
    )
    parser.add_argument(
        "--middle-c",
        default="C4",
        metavar="NAME",
        help="what middle C is called: C4 (default), C3 or C5, as your sequencer has it",
    )
    debug_option(parser)


def debug_option(parser: argparse.ArgumentParser) -> None:
    """The option for whoever looks for a fault in livepedal."""
    parser.add_argument("--debug", action="store_true", help="show tracebacks")


def plain_option(parser: argparse.ArgumentParser) -> None:
    """The option of every command that writes a report as text."""
    parser.add_argument("--plain", action="store_true", help="no colour, no box characters")


def common_options(parser: argparse.ArgumentParser) -> None:
    """The options of every command that judges files."""
    harp_options(parser)
    parser.add_argument(
        "--track",
        action="append",
        default=[],
        metavar="NUMBER_OR_NAME",
        help="the harp's track; may be given again",
    )
    parser.add_argument(
        "--merge",
        action="store_true",
        help="all harp tracks are played on one harp; where none is a harp's, all tracks but drums",
    )
    parser.add_argument(
        "--program",
        action="append",
        default=[],
        type=int,
        metavar="N",
        help="heed only the notes under this program, 0 to 127 (the harp's is 46); may be given again",
    )
    parser.add_argument(
        "--channel",
        action="append",
        default=[],
        type=int,
        metavar="N",
        help="heed this MIDI channel alone, 1 to 16; may be given again",
    )
    parser.add_argument(
        "--transpose", type=int, default=0, metavar="N", help="judge it N semitones higher (lower: -N)"
    )
    parser.add_argument(
        "--ignore-below",
        metavar="NOTE",
        help="leave out what lies below: a note such as C2, or a MIDI number; for keyswitches",
    )
    parser.add_argument(
        "--first-bar", type=int, default=1, metavar="N", help="number of the first bar (0 with a pickup)"
    )


def spelling_options(parser: argparse.ArgumentParser) -> None:
    """The options that give a spelling or a pedalling."""
    parser.add_argument(
        "--spell",
        action="append",
        default=[],
        metavar='"BARS: SPELLING"',
        help='spell so: "3-7: Fb major", "12: Fx", "1-4: Db Cb Bb Eb Fb Gb Ab"; may be given again',
    )
    parser.add_argument("--spell-file", metavar="FILE", help="text file with one such spelling a line")
    parser.add_argument(
        "--as-written", action="store_true", help="spell as the key signatures of the file have it"
    )
    parser.add_argument(
        "--as-marked",
        action="store_true",
        help="proofread the pedal changes in the file's own texts, such as --marked writes (a score's always are)",
    )


def wish(options: argparse.Namespace) -> Wish | None:
    """The spelling that the options give, if any; not every command has them.

    Raises LivepedalError for one that is wrong.
    """
    texts = getattr(options, "spell", [])
    file = getattr(options, "spell_file", None)
    as_written = getattr(options, "as_written", False)
    if not texts and file is None and not as_written:
        return None
    from livepedal.advice.spelling.given import Wish, parse_request, read_requests

    requests = [] if file is None else list(read_requests(Path(file), options.middle_c))
    requests += [parse_request(text, options.middle_c) for text in texts]
    return Wish(tuple(requests), as_written)


def advice_options(parser: argparse.ArgumentParser) -> None:
    """The options of `check` that ask what to do about it."""
    parser.add_argument(
        "--remedies", action="store_true", help="say what would make it playable: the best way for each place"
    )
    parser.add_argument(
        "--all", action="store_true", help="every finding and every remedy, not only the first"
    )
    parser.add_argument(
        "--sheet",
        action="store_true",
        help="the setting and the pedal changes alone, as text or with --page; with --json: the spelling sheet added",
    )
    parser.add_argument(
        "--from",
        dest="from_bar",
        type=int,
        metavar="BAR",
        help="judge from this bar on, with the pedals set as --start says (default: whatever is best there)",
    )


def many_options(parser: argparse.ArgumentParser) -> None:
    """The options of `check` that say how the report is written, and what fails."""
    form = parser.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="write the report as JSON (format livepedal-check)")
    form.add_argument(
        "--jsonl",
        action="store_true",
        help="the same as JSON lines: a document for each file, when it is done",
    )
    form.add_argument("--csv", action="store_true", help="a row for each finding, as comma-separated values")
    form.add_argument(
        "--full", action="store_true", help="the whole report on each of several files, not one line"
    )
    parser.add_argument(
        "--jobs",
        type=int,
        default=1,
        metavar="N",
        help="judge by N processes (0: as many as cores; default 1)",
    )
    parser.add_argument(
        "--fail-on",
        metavar="WHAT",
        help="exit code 1 on: unplayable, virtuoso (and worse), audible (and worse), or printed (slips in a printed"
        " pedalling)",
    )
    parser.add_argument(
        "--accept",
        metavar="FILE.json",
        help="write what is found there as known; where it is there already, fail only on what is new",
    )
    parser.add_argument(
        "--quiet", action="store_true", help="one line for each file that fails, and nothing else"
    )


# Options of `check` that say how something is told and what is told besides, so that no verdict hangs on them.
_FORM = frozenset({"debug", "remedies", "all", "sheet", "as_marked"})
# Those that say what of a file is judged, not how.
_CHOICE = frozenset({"track", "merge", "program", "channel", "transpose", "ignore_below"})


def check_command(file: str, values: Mapping[str, object]) -> str:
    """The command that judges a file as it was judged with these values of the options of `check`, by their names as
    argparse has them. What is not among them, or is as it is when nobody says anything, is left out.
    """
    return shlex.join(["livepedal", "check", *_given(values), file])


def remedies_command(file: str, values: Mapping[str, object]) -> str:
    """The command that tells what would mend a new file, judged as the one was that it is made of."""
    how = {name: value for name, value in values.items() if name not in _CHOICE}
    return shlex.join(["livepedal", "check", "--remedies", *_given(how), file])


def _given(values: Mapping[str, object]) -> list[str]:
    """The options that a verdict, or a name or a number in the report, hangs on, as they are typed."""
    parser = argparse.ArgumentParser(add_help=False)
    for add in (common_options, spelling_options, advice_options):
        add(parser)
    words: list[str] = []
    for action in parser._actions:
        value = values.get(action.dest, action.default)
        if action.dest in _FORM or value == action.default:
            continue
        name = action.option_strings[0]
        if value is True:
            words.append(name)
            continue
        for one in map(
            str, value if isinstance(value, Sequence) and not isinstance(value, str) else (value,)
        ):
            # What starts with a dash would be taken for an option.
            words += [f"{name}={one}"] if one.startswith("-") else [name, one]
    return words


class Asked:
    """The options that every command shares, checked: a wrong one is told before any file is read.

    Not every command has those about spelling and remedies.
    """

    def __init__(self, options: argparse.Namespace) -> None:
        """Raises LivepedalError for the first that is wrong."""
        from livepedal.harp import Setting, load_figures

        self.middle_c = middle_c_asked(options)
        self.figures: Figures = load_figures(Path(options.figures) if options.figures is not None else None)
        self.player: Player = self.figures.player(options.player)
        self.instrument: Instrument = self.figures.instrument(options.harp)
        self.start: Setting | None = None if options.start is None else Setting.parse(options.start)
        self.tracks: tuple[str, ...] = tuple(options.track)
        self._project: Project | None = getattr(options, "project", None)
        self.merge: bool = options.merge
        self.channels = channels_asked(options)
        self.programs = _programs_asked(options)
        self.transpose: int = options.transpose
        if abs(self.transpose) > 60:
            raise LivepedalError(
                f"--transpose {self.transpose} is more than five octaves; it is in semitones, such as -12."
            )
        self.ignore_below: int = (
            0 if options.ignore_below is None else midi_number(options.ignore_below, self.middle_c)
        )
        self.first_bar: int = options.first_bar
        self.spelling: Wish | None = wish(options)
        self.as_marked: bool = getattr(options, "as_marked", False)
        self.every: bool = getattr(options, "all", False)
        self.remedies: bool = self.every or getattr(options, "remedies", False)
        self.sheet: bool = getattr(options, "sheet", False)
        self.from_bar: int | None = getattr(options, "from_bar", None)
        self.only = layers_asked(options)
        # Whether a command without these options would tell the same.
        self.bare = not _given(vars(options))

    def tracks_of(self, path: str) -> tuple[str, ...]:
        """The tracks that are the harp's: as typed, else as the project has them for a file of this name."""
        return self.tracks or (() if self._project is None else self._project.tracks_of(path))

    def parts(self, song: Song) -> tuple[Part, ...]:
        """The harp parts of a file, as they are wanted. Raises as `parts_wanted` does."""
        from livepedal.music.parts import parts_wanted

        return parts_wanted(song, self.wanted)

    def judged(self, song: Song) -> tuple[PartReport, ...]:
        """Each harp part of a file, judged, a score as it is printed. Raises as `parts_wanted` does."""
        from livepedal.advice.judging.part import judge_part
        from livepedal.advice.spelling.given import printed_spelling

        return tuple(
            judge_part(
                part,
                self.figures,
                self.instrument,
                self.player.name,
                setting=self.start,
                layers=self.only,
                asked=printed_spelling(part, self.figures),
                keys=song.keys,
            )
            for part in self.parts(song)
        )

    @property
    def wanted(self) -> Wanted:
        """What is wanted of a file."""
        from livepedal.music.choosing import Wanted

        return Wanted(
            self.tracks, self.merge, self.channels, self.transpose, self.ignore_below, self.programs
        )


def middle_c_asked(options: argparse.Namespace) -> str:
    """What middle C is called, such as "C3". Raises LivepedalError for what it is called nowhere."""
    from livepedal.harp import octave_shift

    octave_shift(options.middle_c)
    name: str = options.middle_c
    return name.strip().upper()


def _programs_asked(options: argparse.Namespace) -> tuple[int, ...]:
    for program in options.program:
        if not 0 <= program <= 127:
            raise LivepedalError(
                f"There is no program {program}; give a number from 0 to 127 to --program, such as 46 for the harp."
            )
    return tuple(dict.fromkeys(options.program))


def channels_asked(options: argparse.Namespace) -> tuple[int, ...]:
    """The channels to heed alone, each once; none where all are. Raises LivepedalError unless they are 1 to 16."""
    for channel in options.channel:
        if not 1 <= channel <= 16:
            raise LivepedalError(
                f"There is no MIDI channel {channel}; give a number from 1 to 16 to --channel."
            )
    return tuple(dict.fromkeys(options.channel))


def layers_asked(options: argparse.Namespace) -> tuple[Layer, ...]:
    """The layers to judge alone, each once; none where all are. Raises LivepedalError for an unknown one."""
    from livepedal.model.findings import layers_named

    names = [name.strip().lower() for asked in options.only for name in asked.split(",") if name.strip()]
    return layers_named(dict.fromkeys(names))


def midi_number(text: str, middle_c: str) -> int:
    """A MIDI number from one, or from a note's name with its octave, such as "C2" or "F#2".

    middle_c: what middle C is called. Raises LivepedalError for anything else.
    """
    import re

    from livepedal.harp import Pedal, octave_shift

    asked = text.strip()
    if asked.isascii() and asked.isdigit() and int(asked) <= 127:
        return int(asked)
    note = re.fullmatch(r"([A-Ga-g])([#♯b♭n♮]?)(-?[0-9])", asked)
    if note is not None:
        octave = int(note[3]) - octave_shift(middle_c)
        number = 12 * (octave + 1) + Pedal[note[1].upper()].natural
        number += {"#": 1, "♯": 1, "b": -1, "♭": -1}.get(note[2], 0)
        if 0 <= number <= 127:
            return number
    raise LivepedalError(
        f"{text!r} is no note for --ignore-below; give one such as C2 or F#2, or a MIDI number from 0 to 127."
    )


def read_named(path: str, first_bar: int) -> tuple[Song, str]:
    """The song of a path, of a recording's name, or of - for standard input, and what to call it.

    Raises LivepedalError when it cannot be read at all.
    """
    from livepedal.music.song import read_song

    if path == "-":
        return read_song(read_stdin(), name=STDIN, first_bar=first_bar), STDIN
    file = bundled.path_of(path)
    if file == os.path.basename(file) and "." not in file and not os.path.exists(file):
        known = ", ".join(found.stem for found in bundled.recordings())
        raise LivepedalError(
            f"{file}: there is no such file, and no recording of that name; known are {known}."
        )
    return read_song(Path(file), first_bar=first_bar), path


def read_stdin() -> bytes:
    """What is piped into standard input. Raises LivepedalError where nothing is."""
    if sys.stdin is None or sys.stdin.isatty():
        raise LivepedalError("Nothing is piped into standard input; name a file, or send one with < FILE.")
    return sys.stdin.buffer.read(MAX_STDIN)
