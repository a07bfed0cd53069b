"""Bytes from anywhere, and which kind of file they are: a standard MIDI file or a MusicXML score.

This is the one boundary where bytes become a `RawSong` or a LivepedalError.
"""

from __future__ import annotations

import io
from pathlib import Path
from typing import BinaryIO

from livepedal.errors import LivepedalError
from livepedal.sources.raw import RawSong, Refused
from livepedal.sources.smf import parse_smf
from livepedal.sources.text import clean

MAX_BYTES = 64 * 1024 * 1024


def read_raw(source: Path | str | bytes | BinaryIO, *, name: str | None = None) -> RawSong:
    """Read a standard MIDI file of type 0, 1 or 2, or a MusicXML score.

    Args:
        source: a path, the bytes, or an open binary stream.
        name: what messages call the file; the path, or "standard input" for a stream, unless given.

    Raises:
        LivepedalError: and nothing else, when there is nothing to be had from it.
    """
    name = clean(name if name is not None else name_of(source), 500)
    try:
        data = _bytes(source)
        if data[:2] in (b"PK", b"\xff\xfe", b"\xfe\xff") or b"<" in data[:8]:
            # A score's own modules are imported where there is one: most files are MIDI.
            from livepedal.sources.scores.musicxml import read_musicxml
            from livepedal.sources.scores.xml_units import is_score

            if is_score(data):
                return read_musicxml(data)
        return parse_smf(data)
    except Refused as refusal:
        raise LivepedalError(f"{name}: {refusal}") from None
    except OSError as error:
        raise LivepedalError(_unreadable(name, error)) from None


def read_bytes(path: Path) -> bytes:
    """All bytes of a file, as `read_raw` takes them, for whoever needs them as well.

    Raises:
        LivepedalError: as it does.
    """
    try:
        return _bytes(path)
    except Refused as refusal:
        raise LivepedalError(f"{clean(str(path), 500)}: {refusal}") from None
    except OSError as error:
        raise LivepedalError(_unreadable(str(path), error)) from None


def name_of(source: Path | str | bytes | BinaryIO) -> str:
    """The name of a nameless source in messages."""
    if isinstance(source, Path | str):
        return str(source)
    return "MIDI data" if isinstance(source, bytes) else "standard input"


def _unreadable(name: str, error: OSError) -> str:
    reason = error.strerror or str(error) or type(error).__name__
    if isinstance(error, FileNotFoundError):
        return f"{clean(name, 500)}: there is no such file; check its name and folder."
    return f"{clean(name, 500)}: cannot be read ({clean(reason)}); check the path and its permissions."


def _bytes(source: Path | str | bytes | BinaryIO) -> bytes:
    if isinstance(source, bytes):
        data = source
    elif isinstance(source, Path | str):
        try:
            with open(source, "rb") as stream:
                data = _drain(stream)
        except ValueError:  # a null character in the path
            raise Refused("is not a possible file name; check its spelling.") from None
    else:
        data = _drain(source)
    if len(data) > MAX_BYTES:
        raise Refused(
            f"is larger than {MAX_BYTES // 1024 // 1024} MB, which is too large; export a shorter passage."
        )
    return data


def _drain(stream: BinaryIO | io.BufferedReader) -> bytes:
    """Read to the end or to one byte over the limit, however little a pipe gives at a time."""
    pieces = []
    left = MAX_BYTES + 1
    while left > 0 and (piece := stream.read(left)):
        pieces.append(piece)
        left -= len(piece)
    return b"".join(pieces)
