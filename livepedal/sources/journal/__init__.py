"""The journal of a live session: everything played and every command, a line each, safe before it is judged.

    livepedal-journal 1 {"started": ...} 5d41c0aa
    1 1204113 m 0 903c40 8f3a1c22
    2 1311002 c tap "" 0c9d77e1

The first line names the format, its version, and how the session was set up. Each further line is a record:
its number, the moment (microseconds since the start), `m`, the number of its source and the bytes as they
came, in hexadecimal, or `c`, a command and its argument as a JSON string; and at its end the CRC-32 (zlib) of
all before the blank. Lines are only ever appended. A record is with the operating system before the model
hears of it, so a crash of the program loses nothing; `sync` brings it to the disk, so a power cut loses what
came after the last one.

Reading keeps every record that is whole and says what is not: a line that was cut off, a line whose sum is
wrong, numbers that are missing. Even without its first line the music can be had; it is judged then as if
nothing had been asked for. A full disk is no end: what cannot be written waits in memory and is written,
in order, when there is room again.
"""

from __future__ import annotations

from livepedal.sources.journal.reading import in_use, read_journal, unfinished
from livepedal.sources.journal.records import ENDING, Command, Header, Heard, Journal, Record, Word
from livepedal.sources.journal.writing import LONGEST_SYSEX, JournalWriter, append_command

__all__ = [
    "ENDING",
    "LONGEST_SYSEX",
    "Command",
    "Header",
    "Heard",
    "Journal",
    "JournalWriter",
    "Record",
    "Word",
    "append_command",
    "in_use",
    "read_journal",
    "unfinished",
]
