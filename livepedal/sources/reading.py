"""Reads bytes from anywhere as a standard MIDI file or a MusicXML score.

This is the one boundary where bytes become a `RawSong` or a LivepedalError.
"""

from __future__ import annotations

from pathlib import Path

from livepedal.errors import LivepedalError
from livepedal.sources.raw import RawSong, Refused
from livepedal.sources.smf import parse_smf
from livepedal.sources.text import clean

MAX_BYTES = 64 * 1024 * 1024


def read_raw(source: Path | str | bytes, name: str | None = None) -> RawSong:
    """Read a standard MIDI file of type 0, 1 or 2, or a MusicXML score.

    Args:
        source: a path, or the bytes.
        name: what messages call the file; its path by default.

    Raises:
        LivepedalError: it cannot be read; no other error leaves this function.
    """
    name = clean(name_of(source) if name is None else name, 500)
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
        raise LivepedalError(f"{name} {refusal}") from None


def name_of(source: Path | str | bytes) -> str:
    """What messages call a source that was given no name."""
    return "MIDI data" if isinstance(source, bytes) else str(source)


def read_bytes(source: Path | str | bytes, name: str) -> bytes:
    """All bytes of a file; `name` is what messages call it.

    Raises:
        LivepedalError: it cannot be read, or is too large.
    """
    try:
        if not isinstance(source, bytes):
            with open(source, "rb") as stream:
                source = stream.read(MAX_BYTES + 1)
    except ValueError:  # a null character in the path
        raise LivepedalError(f"{name} is not a possible file name; check its spelling.") from None
    except FileNotFoundError:
        raise LivepedalError(f"{name}: there is no such file; check its name and folder.") from None
    except IsADirectoryError:
        raise LivepedalError(f"{name} is a folder; name a file in it.") from None
    except OSError as error:
        reason = clean(error.strerror or str(error) or type(error).__name__)
        raise LivepedalError(
            f"{name} cannot be read ({reason}); check the path and its permissions."
        ) from None
    if len(source) > MAX_BYTES:
        raise LivepedalError(
            f"{name} is larger than {MAX_BYTES // 1024 // 1024} MB, which is too large; export a shorter passage."
        )
    return source
