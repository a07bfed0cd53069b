"""Standard MIDI files written by mido: takes that are saved, parts for two harps.

Only marks that go into somebody's own file are spliced in byte by byte (marking.py), since mido would write all of it
anew. Source: "Standard MIDI Files 1.0" (RP-001), SMF 1.0 below.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator, Sequence
from typing import Any, TypeVar

import mido

from livepedal.sources.raw import OWN_MARK
from livepedal.sources.text import clean

LONGEST_NUMBER = (1 << 28) - 1  # the most that four bytes of seven bits hold (SMF 1.0: 0FFFFFFF)
LONGEST_TEXT = 2000  # characters
Row = tuple[int, Any]
"""A tick and a message of mido."""
_Event = TypeVar("_Event")


def text_event(kind: str, text: str) -> Any:
    """A meta message of mido with a text, without control characters and not too long."""
    field = "name" if kind == "track_name" else "text"
    return mido.MetaMessage(kind, **{field: clean(text, LONGEST_TEXT)})


def timed(rows: Iterable[tuple[int, _Event]], filler: _Event) -> Iterator[tuple[int, _Event]]:
    """The events of a track with the ticks since the event before.

    Args:
        rows: tick and event, in order of time.
        filler: what stands in a gap that is longer than SMF 1.0 can say.
    """
    at = 0
    for tick, event in rows:
        while tick - at > LONGEST_NUMBER:
            yield LONGEST_NUMBER, filler
            at += LONGEST_NUMBER
        yield tick - at, event
        at = tick


def midi_file(per_quarter: int, tracks: Sequence[tuple[Sequence[Row], int]]) -> bytes:
    """A file of type 1.

    Args:
        per_quarter: ticks.
        tracks: of each the rows, in order of time, and the tick of its end, which is no earlier than the last row.
    """
    file = mido.MidiFile(type=1, ticks_per_beat=per_quarter, charset="utf-8")
    filler = mido.MetaMessage("text", text=OWN_MARK)  # marking takes it out again
    for rows, end in tracks:
        end = max(end, rows[-1][0] if rows else 0)
        track = mido.MidiTrack()
        for ticks, message in timed([*rows, (end, mido.MetaMessage("end_of_track"))], filler):
            message.time = ticks
            track.append(message)
        file.tracks.append(track)
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()
