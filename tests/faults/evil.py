"""Names that would act if they were let: on a terminal (ECMA-48), as markup, on a page, on the direction of text, on
lines; and music whose every text is such a name.
"""

from __future__ import annotations

from pathlib import Path

import mido

from tests.places import RECORDINGS

# Escape sequences that livepedal itself never writes, so that one in its output is one that came through.
ACTS = ("\x1b[41m", "\x1b[3J", "\x1b]0;title\x07", "\x1bc", "\x9b41m", "\x07", "\x08", "\x7f")
TURNS = ("\u202e", "\u2066", "\u200f", "\u2028", "\ufeff", "\U000e0041")
NAMES = (
    "[red]harp[/]",
    "[link=file:x]harp",
    "harp<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "{{ 7 * 7 }}{% raw %}",
    "]]>--><svg/onload=alert(1)>",
    "harp\nlivepedal: all is well\r",
    *(f"harp{act}" for act in (*ACTS, *TURNS)),
    "渡し舟の竪琴" * 9,
    "harp e" + "\u0301" * 60,
    "x" * 60_000,
)


def music(path: Path, names: tuple[str, ...] = NAMES) -> Path:
    """Three harp parts, the last of them unplayable, as the file `path`, with evil names of tracks, markers, texts and
    lyrics; the quarters are marked with each of the names in turn.
    """
    source = mido.MidiFile(RECORDINGS / "08-two-banks.mid")
    source.tracks.append(mido.MidiFile(RECORDINGS / "03-paddle-wheel.mid").tracks[1])
    made = mido.MidiFile(type=1, ticks_per_beat=source.ticks_per_beat, charset="utf-8")
    short = "".join(name[:24] for name in names)
    for number, track in enumerate(source.tracks):
        turned = mido.MidiTrack()
        for message in track:
            if message.type == "track_name":
                # The first 200 characters are shown; each track shows others of the names.
                message = message.copy(name=f"harp {number} [red]{short[(number - 1) * 130 :]}")
            turned.append(message)
        if number == 0:
            ends = turned.pop() if turned and turned[-1].type == "end_of_track" else None
            for kind in ("text", "lyrics", "cue_marker", "copyright"):
                turned.append(mido.MetaMessage(kind, text=short[:300]))
            for name in names:
                turned.append(mido.MetaMessage("marker", text=name, time=source.ticks_per_beat))
            if ends is not None:
                turned.append(ends)
        made.tracks.append(turned)
    made.save(path)
    return path


def folder(parent: Path) -> Path:
    """A folder, and in it a file, with names that would act; neither has a slash in it, of course."""
    place = parent / '[red]<b onload="x">\x1b[41m\u202e'
    place.mkdir()
    return music(place / "harp [blue]\x1b]0;t\x07\n\u2066<script>alert(1)<&lt;'\".mid")


def harmless(text: str) -> bool:
    """Whether a text is lines of visible characters and nothing else."""
    return all(line.isprintable() for line in text.split("\n"))
