"""The journal of a live session: everything played and every command, one line each, safe before it is judged.

    livepedal-journal 1 {"started": ...} 5d41c0aa
    1 1204113 m 0 903c40 8f3a1c22
    2 1311002 c tap "" 0c9d77e1

The first line names the format, its version, and how the session was set up. Each further line is a record: its number
and its moment (µs since the start); then `m`, the number of the source and the bytes as they came, in hexadecimal, or
`c`, a command and its argument as a JSON string. Each line ends with the CRC-32 (zlib) of what stands before it. Lines
are only ever appended. The operating system has a record before the model hears of it, so a crash of the program loses
nothing; `sync` brings it to the disk, so a power cut loses what came after the last sync.

Reading keeps every record that is whole and says what is damaged: a line that was cut off, a line whose sum is wrong,
missing numbers. Even without its first line the music can be read; it is then judged with the defaults. What does not
fit on a full disk waits in memory and is written, in order, when there is room again.
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
