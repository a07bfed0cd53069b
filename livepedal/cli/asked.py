"""What every judging command is asked with: what its options mean, checked before any file is read."""

from __future__ import annotations

import argparse
import os
import re
import sys
from dataclasses import replace
from pathlib import Path

from livepedal import bundled
from livepedal.advice.judging.basis import Basis
from livepedal.advice.judging.part import judge_part
from livepedal.advice.judging.report import PartReport
from livepedal.advice.spelling.given import AskedSpelling, printed_spelling
from livepedal.advice.spelling.requests import parse_request, read_requests
from livepedal.cli.options import given
from livepedal.cli.project import Project
from livepedal.errors import LivepedalError
from livepedal.harp import Figures, Instrument, Pedal, Player, Setting, load_figures, octave_shift
from livepedal.model.findings import Layer, layers_named
from livepedal.music.choosing import Wanted
from livepedal.music.parts import parts_wanted
from livepedal.music.song import Part, Song, read_song

STDIN = "standard input"
# Far more than the reader accepts, so that it is the reader who says that it is too much.
MAX_STDIN = 256 * 1024 * 1024


def asked_spelling(options: argparse.Namespace) -> AskedSpelling | None:
    """The spelling that the options give, if any; not every command has them.

    Raises LivepedalError for one that is wrong.
    """
    texts = getattr(options, "spell", [])
    file = getattr(options, "spell_file", None)
    as_written = getattr(options, "as_written", False)
    if not texts and file is None and not as_written:
        return None
    requests = [] if file is None else list(read_requests(Path(file), options.middle_c))
    requests += [parse_request(text, options.middle_c) for text in texts]
    return AskedSpelling(tuple(requests), as_written)


class Asked:
    """The options that every command shares, checked before any file is read.

    Not every command has those about spelling and remedies.
    """

    def __init__(self, options: argparse.Namespace) -> None:
        """Raises LivepedalError for the first that is wrong."""
        self._project: Project = getattr(options, "project", Project())
        named = self._project.named
        with named("middle-c", options.middle_c):
            self.middle_c = middle_c_asked(options)
        self.figures: Figures = load_figures(Path(options.figures) if options.figures is not None else None)
        with named("player", options.player):
            self.player: Player = self.figures.player(options.player)
        with named("harp", options.harp):
            self.instrument: Instrument = self.figures.instrument(options.harp)
        with named("start", options.start):
            self.start: Setting | None = None if options.start is None else Setting.parse(options.start)
        self.tracks: tuple[str, ...] = tuple(options.track)
        self.merge: bool = options.merge
        self.channels = channels_asked(options)
        self.programs = _programs_asked(options)
        self.transpose: int = options.transpose
        with named("transpose", self.transpose):
            if abs(self.transpose) > 60:
                raise LivepedalError(
                    f"--transpose {self.transpose} is more than five octaves; give semitones, such as -12."
                )
        with named("ignore-below", options.ignore_below):
            self.ignore_below: int = (
                0 if options.ignore_below is None else midi_number(options.ignore_below, self.middle_c)
            )
        self.first_bar: int = options.first_bar
        self.spelling: AskedSpelling | None = asked_spelling(options)
        self.as_marked: bool = getattr(options, "as_marked", False)
        self.every: bool = getattr(options, "all", False)
        self.remedies: bool = self.every or getattr(options, "remedies", False)
        self.sheet: bool = getattr(options, "sheet", False)
        self.from_bar: int | None = getattr(options, "from_bar", None)
        self.only = layers_asked(options)
        # Whether a command without these options would say the same.
        self.bare = not given(vars(options))

    def tracks_of(self, path: str) -> tuple[str, ...]:
        """The harp's tracks: as typed, else as the project sets them for a file of this name."""
        return self.tracks or self._project.tracks_of(path)

    def parts(self, song: Song) -> tuple[Part, ...]:
        """The harp parts of a file, as they are wanted. Raises as `parts_wanted` does."""
        return parts_wanted(song, self.wanted)

    def judged(self, song: Song) -> tuple[PartReport, ...]:
        """Each harp part of a file, judged, a score as it is printed. Raises as `parts_wanted` does."""
        return tuple(
            judge_part(part, replace(self.basis, asked=printed_spelling(part, self.figures)), keys=song.keys)
            for part in self.parts(song)
        )

    @property
    def basis(self) -> Basis:
        """What it is judged on."""
        return Basis(self.figures, self.instrument, self.player.name, self.start, self.only)

    @property
    def wanted(self) -> Wanted:
        """What is wanted of a file."""
        return Wanted(
            self.tracks, self.merge, self.channels, self.transpose, self.ignore_below, self.programs
        )


def middle_c_asked(options: argparse.Namespace) -> str:
    """The name of middle C, such as "C3". Raises LivepedalError for an unusual one."""
    octave_shift(options.middle_c)
    name: str = options.middle_c
    return name.strip().upper()


def _programs_asked(options: argparse.Namespace) -> tuple[int, ...]:
    for program in options.program:
        if not 0 <= program <= 127:
            raise LivepedalError(
                f"There is no program {program}; give --program a number from 0 to 127, such as 46 for the harp."
            )
    return tuple(dict.fromkeys(options.program))


def channels_asked(options: argparse.Namespace) -> tuple[int, ...]:
    """The channels to heed alone, each once; none where all are. Raises LivepedalError unless they are 1 to 16."""
    for channel in options.channel:
        if not 1 <= channel <= 16:
            raise LivepedalError(f"There is no MIDI channel {channel}; give --channel a number from 1 to 16.")
    return tuple(dict.fromkeys(options.channel))


def layers_asked(options: argparse.Namespace) -> tuple[Layer, ...]:
    """The layers to judge alone, each once; none where all are. Raises LivepedalError for an unknown one."""
    names = [name.strip().lower() for asked in options.only for name in asked.split(",") if name.strip()]
    return layers_named(dict.fromkeys(names))


def midi_number(text: str, middle_c: str) -> int:
    """A MIDI number from one, or from a note's name with its octave, such as "C2" or "F#2".

    middle_c: what middle C is called. Raises LivepedalError for anything else.
    """
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
        f"{text!r} is not a note; give --ignore-below one such as C2 or F#2, or a MIDI number from 0 to 127."
    )


def read_named(path: str, first_bar: int) -> tuple[Song, str]:
    """The song of a path, of a recording's name, or of - for standard input, and what to call it.

    Raises LivepedalError when it cannot be read at all.
    """
    if path == "-":
        return read_song(read_stdin(), name=STDIN, first_bar=first_bar), STDIN
    file = bundled.path_of(path)
    if file == os.path.basename(file) and "." not in file and not os.path.exists(file):
        known = ", ".join(found.stem for found in bundled.recordings())
        raise LivepedalError(
            f"{file}: there is no such file, and no recording of that name; the recordings are {known}."
        )
    return read_song(Path(file), first_bar=first_bar), path


def read_stdin() -> bytes:
    """The bytes from standard input. Raises LivepedalError if there are none."""
    if sys.stdin is None or sys.stdin.isatty():
        raise LivepedalError("There is nothing on standard input; name a file, or send one with < FILE.")
    return sys.stdin.buffer.read(MAX_STDIN)
