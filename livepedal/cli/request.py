"""What a judging command is asked for: what its options mean, checked before any file is read."""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Sequence
from pathlib import Path

from livepedal import bundled
from livepedal.advice.checking import Task
from livepedal.advice.judging.basis import Basis
from livepedal.advice.spelling.given import AskedSpelling
from livepedal.advice.spelling.requests import parse_request, read_requests
from livepedal.cli.options import given
from livepedal.cli.output import say
from livepedal.cli.project import Project, understood
from livepedal.errors import LivepedalError
from livepedal.harp import Pedal, Setting, load_figures, octave_shift
from livepedal.model.findings import Layer, layers_named
from livepedal.music.choosing import Wanted
from livepedal.music.song import Song, read_song

STDIN = "standard input"
NO_INPUT = "There is nothing on standard input; name a file, or send one with < FILE."
# Far more than the reader accepts, so that it is the reader who says that it is too much.
MAX_STDIN = 256 * 1024 * 1024


class Request:
    """What every judging command is asked for.

    Attributes:
        basis: what music is judged on.
        wanted: which notes of a file are the harp's.
        task: what `check` finds out about each file.
        middle_c: what middle C is called, such as "C3".
        every: show every finding and every remedy.
        sheet: show only the setting and the pedal changes.
        bare: whether a command without these options would say the same.
    """

    def __init__(self, options: argparse.Namespace) -> None:
        """Raises LivepedalError for the first option that is wrong."""
        self._project: Project = options.project
        self.middle_c = understood(options, "middle-c", middle_c_name)
        self.basis = basis_of(options)
        self.wanted = Wanted(
            tuple(options.track),
            options.merge,
            channels(options.channel),
            understood(options, "transpose", _semitones),
            understood(options, "ignore-below", lambda note: _midi_number(note, self.middle_c)),
            _each_once(
                options.program, range(128), "program", "give --program a number from 0 to 127, such as 46 for the harp"
            ),
        )
        self.task = Task(
            self.basis,
            self.wanted,
            _spelling(options, self.middle_c),
            options.first_bar,
            options.from_bar,
            options.as_marked,
            remedies=options.all or options.remedies,
            sheet=options.sheet and (options.json or options.jsonl),
        )
        self.every: bool = options.all
        self.sheet: bool = options.sheet
        self.bare = not given(vars(options))

    def tracks_of(self, path: str) -> tuple[str, ...]:
        """The harp's tracks: as typed, else as the project sets them for a file of this name."""
        return self.wanted.tracks or self._project.tracks_of(path)


def basis_of(options: argparse.Namespace) -> Basis:
    """What music is judged on. Raises LivepedalError for the first option that is wrong."""
    figures = understood(options, "figures", lambda file: load_figures(None if file is None else Path(file)))
    player = understood(options, "player", figures.player)
    instrument = understood(options, "harp", figures.instrument)
    start = understood(options, "start", lambda text: None if text is None else Setting.parse(text))
    return Basis(figures, instrument, player.name, start, _layers(options.only))


def middle_c_name(text: str) -> str:
    """The name of middle C, such as "C3". Raises LivepedalError for an unusual one."""
    octave_shift(text)
    return text.strip().upper()


def channels(numbers: Sequence[int]) -> tuple[int, ...]:
    """MIDI channels, each once. Raises LivepedalError unless they are 1 to 16."""
    return _each_once(numbers, range(1, 17), "MIDI channel", "give --channel a number from 1 to 16")


def _each_once(numbers: Sequence[int], known: range, what: str, give: str) -> tuple[int, ...]:
    for number in numbers:
        if number not in known:
            raise LivepedalError(f"There is no {what} {number}; {give}.")
    return tuple(dict.fromkeys(numbers))


def _layers(texts: Sequence[str]) -> tuple[Layer, ...]:
    return layers_named(name.strip().lower() for text in texts for name in text.split(","))


def _semitones(number: int) -> int:
    if abs(number) > 60:
        raise LivepedalError(f"--transpose {number} is more than five octaves; give semitones, such as -12.")
    return number


def _midi_number(text: str | None, middle_c: str) -> int:
    """A MIDI number from one, or from a note's name with its octave, such as "C2" or "F#2"; 0 for None."""
    note = "0" if text is None else text.strip()
    number = int(note) if note.isascii() and note.isdigit() else -1
    named = re.fullmatch(r"([A-Ga-g])([#♯b♭n♮]?)(-?[0-9])", note)
    if named is not None:
        octave = int(named[3]) - octave_shift(middle_c)
        number = 12 * (octave + 1) + Pedal[named[1].upper()].natural
        number += {"#": 1, "♯": 1, "b": -1, "♭": -1}.get(named[2], 0)
    if not 0 <= number <= 127:
        raise LivepedalError(
            f"{text!r} is not a note; give --ignore-below one such as C2 or F#2, or a MIDI number from 0 to 127."
        )
    return number


def _spelling(options: argparse.Namespace, middle_c: str) -> AskedSpelling | None:
    if not options.spell and options.spell_file is None and not options.as_written:
        return None
    requests = [] if options.spell_file is None else list(read_requests(Path(options.spell_file), middle_c))
    requests += [parse_request(text, middle_c) for text in options.spell]
    return AskedSpelling(tuple(requests), options.as_written)


def read_named(path: str, first_bar: int) -> tuple[Song, str]:
    """The song of a path, of a recording's name, or of - for standard input, and what to call it.

    Raises:
        LivepedalError: it cannot be read at all.
    """
    if path == "-":
        return read_song(read_stdin(), name=STDIN, first_bar=first_bar), STDIN
    return read_song(Path(bundled.path_of(path)), first_bar=first_bar), path


def tell_broken_off(song: Song, label: str) -> int:
    """Say of a file that breaks off that it does. Returns the exit code that this asks for: 2, else 0."""
    if not song.broken_off:
        return 0
    sys.stdout.flush()  # so that it stands under the report
    say(f"{label}: {song.broken_off}.")
    return 2


def read_stdin() -> bytes:
    """The bytes from standard input. Raises LivepedalError if there are none."""
    data = b"" if sys.stdin is None or sys.stdin.isatty() else sys.stdin.buffer.read(MAX_STDIN)
    if not data:  # or it has been read already: compare - -
        raise LivepedalError(NO_INPUT)
    return data
