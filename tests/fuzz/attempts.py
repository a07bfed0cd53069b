"""One input through the file reader, and what must be true of whatever comes out.

`read` lets nothing pass but a LivepedalError: any other exception, an AssertionError from here among them, is
a find.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from livepedal import check_file
from livepedal.errors import LivepedalError
from livepedal.music.events import NoteOff, NoteOn
from livepedal.music.parts import NoHarpTrack, Wanted, choose_parts
from livepedal.music.song import MAX_DAYS, Part, Song, read_song
from livepedal.sources.reading import read_raw

LONGEST_TOLD = 1200  # characters of an error: a path of 500, what is wrong, what to do


@dataclass(frozen=True)
class Outcome:
    """What became of an input. notes: struck in all its parts; refusal: the error, or ""."""

    notes: int
    parts: int
    refusal: str = ""


def read(data: bytes) -> Outcome:
    """Through `read_raw`, `read_song` and `choose_parts`, as the command line would, and by other choices."""
    try:
        read_raw(data)
    except LivepedalError as refusal:
        sentence(refusal)
        return Outcome(0, 0, str(refusal))
    try:
        song = read_song(data)
        parts = chosen(song)
    except LivepedalError as refusal:
        sentence(refusal)
        return Outcome(0, 0, str(refusal))
    for part in parts:
        in_order(part)
    return Outcome(sum(part.notes for part in parts), len(parts))


def judge(data: bytes, **options: object) -> str:
    """Through `check_file`; the verdicts, or the refusal."""
    try:
        report = check_file(data, **options)  # type: ignore[arg-type]
    except LivepedalError as refusal:
        sentence(refusal)
        return str(refusal)
    report.to_dict()
    return " ".join(part.verdict.word for part in report.files[0].parts)


def chosen(song: Song) -> tuple[Part, ...]:
    """The harp's parts; where nobody can tell, those of all tracks that are numbered up to 16."""
    try:
        parts = choose_parts(song)
    except NoHarpTrack as refusal:
        sentence(refusal)
        numbers = [str(track.number) for track in refusal.tracks if track.notes][:16]
        return choose_parts(song, Wanted(tuple(numbers), merge=True))
    if len(song.lanes) <= 64:
        for wanted in (Wanted(merge=True), Wanted(channels=(1, 10)), Wanted(transpose=-30, ignore_below=40)):
            try:
                for part in choose_parts(song, wanted):
                    in_order(part)
            except LivepedalError as refusal:
                sentence(refusal)
    return parts


def chosen_plainly(song: Song) -> tuple[Part, ...]:
    """The harp's parts; where nobody can tell, all tracks as one harp."""
    try:
        return choose_parts(song)
    except NoHarpTrack as refusal:
        numbers = [str(track.number) for track in refusal.tracks if track.notes][:16]
        return choose_parts(song, Wanted(tuple(numbers), merge=True))


def told(attempt: Callable[[], str]) -> str:
    """What an attempt says, or why it was refused."""
    try:
        return attempt()
    except LivepedalError as refusal:
        sentence(refusal)
        return f"refused: {str(refusal)[:110]}"


def sentence(refusal: LivepedalError) -> None:
    """An error is one line of printable text, of a length that somebody reads."""
    text = str(refusal)
    assert text.isprintable()
    assert 20 < len(text) < LONGEST_TOLD
    assert text.endswith("."), text


def in_order(part: Part) -> None:
    """A part's promises: in order of time, each key down once and up again, as many notes as it says."""
    down: set[tuple[int, int]] = set()
    struck = now = 0
    layered = 0
    at_once: set[int] = set()
    for event in part.events:
        assert event.us >= now, "time goes back"
        if event.us > now:
            at_once.clear()
        now = event.us
        if isinstance(event, NoteOn):
            key = event.source, event.pitch
            assert key not in down, "a key goes down twice"
            assert 0 <= event.pitch < 128
            assert 0 < event.velocity < 128
            down.add(key)
            struck += 1
            layered += event.pitch in at_once
            at_once.add(event.pitch)
        elif isinstance(event, NoteOff):
            assert (event.source, event.pitch) in down, "a key comes up that is not down"
            down.discard((event.source, event.pitch))
    assert not down, "a key stays down"
    assert struck - layered == part.notes
    assert 0 <= now <= MAX_DAYS * 24 * 3600 * 1_000_000
    assert now <= part.end_us
    first = part.time_map.place(0)
    last = part.time_map.place(part.end_us)
    assert first.bar <= last.bar
    assert last.beat >= 1
    assert all(remark.isprintable() and remark for remark in part.remarks)
    assert part.name.isprintable()
