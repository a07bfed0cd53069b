"""Which files are meant by what is typed, and in which folder they are."""

from __future__ import annotations

import glob
import os
from collections.abc import Sequence

from livepedal import bundled

MIDI_ENDINGS = (".mid", ".midi", ".smf", ".kar", ".rmi", ".musicxml", ".mxl")


def named(arguments: Sequence[str]) -> list[str]:
    """The files that are meant, each once.

    A folder stands for the MIDI files in it and in its folders, a pattern that no shell has expanded for what it
    matches, the name of a recording for that recording.

    What stands for nothing is kept as it is, so that it is told where the others are judged. Names that begin
    with a dot are passed over in folders: archives put such copies of names beside the files.
    """
    found: dict[str, None] = {}
    for argument in arguments:
        if argument == "-" or os.path.isfile(argument):
            found[argument] = None
        elif os.path.isdir(argument):
            found |= dict.fromkeys(_inside(argument) or [argument])
        elif not os.path.exists(argument) and glob.has_magic(argument):
            matches = sorted(glob.glob(argument, recursive=True))
            for match in matches or [argument]:
                found |= dict.fromkeys(_inside(match) if os.path.isdir(match) else [match])
        else:
            found[str(bundled.find(argument) or argument)] = None
    return list(found)


def _inside(folder: str) -> list[str]:
    found: list[str] = []
    closed: list[OSError] = []  # folders; each stands for itself, so that whoever judges it says so
    for place, folders, files in os.walk(folder, onerror=closed.append):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        found += [os.path.join(place, name) for name in files if is_midi(name)]
    return sorted([*found, *(str(error.filename) for error in closed)])


def folder_of(argument: str) -> str:
    """The folder that an argument is, or lies in; the one we are in for standard input."""
    if argument == "-" or os.path.isdir(argument):
        return os.curdir if argument == "-" else argument
    while glob.has_magic(argument) and not os.path.exists(argument):
        argument = os.path.dirname(argument)
    return argument if os.path.isdir(argument) else os.path.dirname(argument) or os.curdir


def is_midi(name: str) -> bool:
    """Whether a file of this name in a folder is meant."""
    return name.lower().endswith(MIDI_ENDINGS) and not name.startswith(".")
