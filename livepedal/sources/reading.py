"""Reads bytes from anywhere as a standard MIDI file or a MusicXML score.

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
        LivepedalError: it cannot be read; no other error leaves this function.
    """
    name = clean(name if name is not None else name_of(source), 500)
    data = read_bytes(source, name)
    try:
        if data[:2] in (b"PK", b"\xff\xfe", b"\xfe\xff") or b"<" in data[:8]:
            # The modules for scores are only imported for one: most files are MIDI.
            from livepedal.sources.scores.musicxml import read_musicxml
            from livepedal.sources.scores.xml_units import is_score

            if is_score(data):
                return read_musicxml(data)
        return parse_smf(data)
    except Refused as refusal:
        raise LivepedalError(f"{name}: {refusal}") from None


def read_bytes(source: Path | str | bytes | BinaryIO, name: str) -> bytes:
    """All bytes of a file; `name` is what messages call it.

    Raises:
        LivepedalError: it cannot be read, or is too large.
    """
    try:
        return _bytes(source)
    except Refused as refusal:
        raise LivepedalError(f"{name}: {refusal}") from None
    except FileNotFoundError:
        raise LivepedalError(f"{name}: there is no such file; check its name and folder.") from None
    except OSError as error:
        reason = clean(error.strerror or str(error) or type(error).__name__)
        raise LivepedalError(
            f"{name}: cannot be read ({reason}); check the path and its permissions."
        ) from None


def name_of(source: Path | str | bytes | BinaryIO) -> str:
    """What messages call a source that was given no name."""
    if isinstance(source, Path | str):
        return str(source)
    return "MIDI data" if isinstance(source, bytes) else "standard input"


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
