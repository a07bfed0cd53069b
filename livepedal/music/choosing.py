"""Which tracks are the harp's, and why.

Tracks whose name says harp, or whose program is General MIDI's orchestral harp, are parts, each on its own; where
one is named, those that have another name are offered and not judged. Else the only track that has notes. Else,
where all tracks are of one keyboard or plucked program or of none, the file is a sketch: two tracks (or four that
are named as hands or staves) are one harp. Else somebody has to choose. The user's own choice goes before all of
these.

Of the harps' tracks some are none after all (common practice of sequencers, no source): a track that its name
calls muted or whose volume is 0 is kept as a sketch; a track that has the name of another one, but for its
articulation, its hand or its staff ("Harp (Legato)", "Harp gliss", "Harp LH", "Harp st2"), belongs to the same
harp; and one that has exactly its name is a layer of it where it has no note of its own, and else, where there are
just two of them, its other staff. Two harps are told apart by their names ("Harp 1", "Harp 2"), or else by the user.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from livepedal.errors import LivepedalError
from livepedal.music.names import family, says_hand, says_muted
from livepedal.music.song import Song
from livepedal.music.tracks import HARP_PROGRAM, Lane, TrackInfo, of_channels, of_programs
from livepedal.music.wording import counted
from livepedal.sources.raw import TICK, strikes
from livepedal.sources.text import clean

# General MIDI's pianos, celesta, organs and plucked strings (data bytes): what a sketch is played with.
SKETCHED = frozenset({*range(9), *range(16, 21), *range(24, 29), *range(104, 108)})
MOST_STAVES = 4  # tracks of a sketch, where their names say that they are hands or staves; else half as many
# Of a harp's notes one track must have this part at least, where others are named or wholly a harp's.
STRAY = 20


class NoHarpTrack(LivepedalError):
    """Nobody can tell which notes are the harp's.

    Attributes:
        tracks: the table to choose from.
        how: a sentence that says how to choose several.
        likeliest: the options for the likeliest choice.
    """

    how = "Repeat --track for more tracks, and add --merge to judge them as one harp."

    def __init__(self, message: str, tracks: tuple[TrackInfo, ...]) -> None:
        super().__init__(message)
        self.tracks = tracks
        # What a harp part is sketched with, then what has most notes.
        best = max(
            (track for track in tracks if track.notes),
            key=lambda track: (not track.drums, track.program in SKETCHED, track.notes),
            default=None,
        )
        self.likeliest: tuple[str, ...] = () if best is None else ("--track", str(best.number))

    def __reduce__(self) -> tuple[type[NoHarpTrack], tuple[str, tuple[TrackInfo, ...]]]:
        return type(self), (str(self), self.tracks)


@dataclass(frozen=True, slots=True)
class Wanted:
    """What the user says about it; the default leaves it all to the rules above.

    Attributes:
        tracks: numbers or parts of names, in any case.
        merge: play all of them on one harp.
        channels: only these, 1 to 16.
        transpose: semitones to add to every note.
        ignore_below: leave out notes below this MIDI pitch (as in the file), such as keyswitches.
        programs: only the notes under these, 0 to 127.
    """

    tracks: tuple[str, ...] = ()
    merge: bool = False
    channels: tuple[int, ...] = ()
    transpose: int = 0
    ignore_below: int = 0
    programs: tuple[int, ...] = ()


ALL_HARPS = Wanted()


@dataclass(frozen=True, slots=True)
class Chosen:
    """One track and what becomes of it.

    Attributes:
        lane: the notes that count.
        part: the part that it is judged in, from 0; None: not judged.
        why: the reason, one clause.
        hides: whether it looks like a harp's but is not judged.
    """

    lane: Lane
    part: int | None
    why: str
    hides: bool = False


def choose(song: Song, wanted: Wanted) -> tuple[Chosen, ...]:
    """What becomes of every track, in the order of the file.

    Raises:
        NoHarpTrack: the choice is not clear.
        LivepedalError: there are no notes at all.
    """
    if not any(lane.info.notes for lane in song.lanes):
        raise LivepedalError(f"{song.path} has no notes to judge; export it again with the part in it.")
    lanes = list(song.lanes)
    for asked, only, where in (
        (wanted.channels, of_channels, "on channel"),
        (wanted.programs, of_programs, "under program"),
    ):
        if asked:
            lanes = [only(lane, asked) for lane in lanes]
            if not any(lane.info.notes for lane in lanes):
                numbers = " or ".join(map(str, asked))
                raise NoHarpTrack(
                    f"{song.path} has no notes {where} {numbers}; choose another.", song.tracks
                )
    reasons = _asked_for(song, lanes, wanted) if wanted.tracks else _the_harps(song, lanes, wanted)
    why = dict(reasons.left_out)
    if wanted.merge or reasons.sketch:
        groups = [list(reasons.harps)]
    elif wanted.tracks:
        groups = [[index] for index in reasons.harps]
    else:
        groups = _harps(song, lanes, reasons.harps, why)
    part_of = {index: number for number, group in enumerate(groups) for index in group}
    return tuple(
        Chosen(
            lane,
            part_of.get(index),
            why.get(index) or reasons.harps.get(index) or _why_not(song.lanes[index], lane, wanted),
            index in why and index not in part_of,
        )
        for index, lane in enumerate(lanes)
    )


@dataclass(frozen=True, slots=True)
class _Reasons:
    """Why tracks (by index) are the harps', and why some that look so are not. sketch: all of them are one harp."""

    harps: dict[int, str]
    left_out: dict[int, str]
    sketch: bool = False


def tuned(lane: Lane) -> int:
    """Notes without drums."""
    return lane.info.notes - lane.info.drums


def _the_harps(song: Song, lanes: Sequence[Lane], wanted: Wanted) -> _Reasons:
    found = {index: why for index, lane in enumerate(lanes) if (why := _says_harp(lane, song.lanes[index]))}
    muted = {index: why for index in found if (why := _muted(lanes[index]))}
    if found and len(muted) < len(found):
        found = {index: why for index, why in found.items() if index not in muted}
        none = {**muted, **_offered(found, lanes)}
        return _Reasons({index: why for index, why in found.items() if index not in none}, none)
    if found:
        return _Reasons(found, {})
    pitched = [index for index, lane in enumerate(lanes) if tuned(lane)]
    if len(pitched) == 1 or (pitched and song.kind == 2):
        why = "the only track with notes" if len(pitched) == 1 else "a piece of its own (type 2)"
        return _Reasons(dict.fromkeys(pitched, why), {})
    if wanted.channels or wanted.programs:
        # The user has said where the harp is; what is left are its tracks.
        asked = [index for index, lane in enumerate(lanes) if lane.info.notes]
        what = "channel" if wanted.channels else "program"
        return _Reasons(dict.fromkeys(asked, f"its {what} was asked for"), {})
    if pitched and wanted.merge:
        return _Reasons(dict.fromkeys(pitched, "all tracks are merged"), {})
    if _sketched([lanes[index] for index in pitched]):
        why = "one of the tracks of a sketch, judged as one harp"
        return _Reasons(dict.fromkeys(pitched, why), {}, sketch=True)
    if not pitched:
        reason = "has nothing but drums on channel 10"
    else:
        reason = f"none of its {len(pitched)} tracks with notes is a harp's by its name or its program"
    raise NoHarpTrack(f"{song.path}: {reason}; choose with --track NUMBER_OR_NAME.", song.tracks)


def _sketched(staff_lanes: Sequence[Lane]) -> bool:
    """Whether these tracks are the staves of a sketch for one harp."""
    programs = {lane.info.program for lane in staff_lanes} - {None}
    staves = MOST_STAVES if all(says_hand(lane.info.name) for lane in staff_lanes) else MOST_STAVES // 2
    return 0 < len(staff_lanes) <= staves and len(programs) <= 1 and programs <= SKETCHED


def _offered(found: dict[int, str], lanes: Sequence[Lane]) -> dict[int, str]:
    """Tracks that only their program calls a harp's, where a better one is there.

    Those are tracks with a name that does not say so beside one that is named, and tracks with hardly a note under the
    harp's program beside a real one.
    """
    real = [
        lanes[index]
        for index in found
        if lanes[index].named or lanes[index].survey.harp_notes == tuned(lanes[index])
    ]
    most = max((tuned(lane) for lane in real), default=0)
    others: dict[int, str] = {}
    for index, why in found.items():
        lane = lanes[index]
        if lane.named:
            continue
        named = lane.info.name and any(one.named for one in real)
        if named or (lane.survey.harp_notes < tuned(lane) and STRAY * lane.survey.harp_notes < most):
            what = "is called a harp" if named else "has more of them"
            others[index] = f"another track {what} (this one: {why}); --track {lane.info.number} judges it"
    return others


def _says_harp(lane: Lane, whole: Lane) -> str:
    """Why a track is a harp's; empty where it is none. whole: all channels of it."""
    if lane.named and tuned(lane):
        return "its name says harp"
    if lane.named and lane.info.notes and not tuned(whole):
        return "its name says harp, though it is on channel 10"
    if lane.survey.harp_notes == tuned(lane) > 0:
        return f"program {HARP_PROGRAM}, the orchestral harp"
    if lane.survey.harp_notes:
        return f"{lane.survey.harp_notes} of its {counted(tuned(lane), 'note')} under program {HARP_PROGRAM}, the harp"
    return ""


def _muted(lane: Lane) -> str:
    if says_muted(lane.info.name):
        return "its name says it is muted"
    return "its volume is 0 throughout" if lane.survey.silent else ""


def _why_not(whole: Lane, lane: Lane, wanted: Wanted) -> str:
    if not whole.info.notes:
        return "no notes"
    if not lane.info.notes:
        return f"not {'under the program' if wanted.programs else 'on the channel'} that was asked for"
    if wanted.tracks:
        return "another track was asked for"
    if not tuned(lane):
        return "drums on channel 10"
    return "not the harp's"


def _asked_for(song: Song, lanes: Sequence[Lane], wanted: Wanted) -> _Reasons:
    chosen: set[int] = set()
    for asked in wanted.tracks:
        found = _matches(song, asked.strip())
        if not found:
            raise NoHarpTrack(
                f"{song.path} has no track “{clean(asked)}”; give a number or part of a name to --track.",
                song.tracks,
            )
        chosen |= found
    sounding = [index for index in sorted(chosen) if lanes[index].info.notes]
    if not sounding:
        named = ", ".join(clean(asked) for asked in wanted.tracks)
        channel = "" if not wanted.channels else f", channel {' or '.join(map(str, wanted.channels))}"
        message = f"{song.path}: there are no notes on track {named}{channel}; choose another with --track."
        raise NoHarpTrack(message, song.tracks)
    return _Reasons(dict.fromkeys(sounding, "it was asked for"), {})


def _matches(song: Song, asked: str) -> set[int]:
    """Indices of tracks by number, else by whole name, else by part of a name."""
    everyone = list(enumerate(song.lanes))
    if asked.isascii() and asked.isdigit():
        found = {index for index, lane in everyone if str(lane.info.number) == asked.lstrip("0")}
        if found:
            return found
    wanted = asked.casefold()
    if not wanted:
        return set()
    whole = {index for index, lane in everyone if lane.info.name.casefold() == wanted}
    return whole or {index for index, lane in everyone if wanted in lane.info.name.casefold()}


def _harps(song: Song, lanes: Sequence[Lane], found: dict[int, str], why: dict[int, str]) -> list[list[int]]:
    """Tracks of one harp together; layers are left out, and said so in `why`."""
    if song.kind == 2:
        return [[index] for index in found]
    families: dict[tuple[str, str], list[int]] = {}
    for index in found:
        name, articulated = family(lanes[index].info.name)
        # What has no articulation may still be the harp of those that have one.
        families.setdefault((name, "" if name or articulated else str(index)), []).append(index)
    groups: list[list[int]] = []
    for members in families.values():
        names = {lanes[index].info.name.casefold() for index in members}
        if len(names) == len(members) > 1:
            groups.append(members)
            first = lanes[members[0]].info.label
            for index in members[1:]:
                why[index] = f"another stave, hand or articulation of “{first}”, by its name"
            continue
        # Where each note stands among the tracks that were kept: what holds all notes of a track holds its
        # rarest one, so of thousands of tracks only a few are looked at.
        kept: dict[int, frozenset[tuple[int, int]]] = {}
        having: dict[tuple[int, int], list[int]] = {}
        for index in sorted(members, key=lambda index: (-lanes[index].info.notes, index)):
            struck = _struck(lanes[index]) if len(members) > 1 else frozenset()
            rarest = min((having.get(note, ()) for note in struck), key=len, default=())
            over = next((other for other in rarest if struck <= kept[other]), None)
            if over is None:
                kept[index] = struck
                for note in struck:
                    having.setdefault(note, []).append(index)
            else:
                why[index] = (
                    f"doubles “{lanes[over].info.label}”, track {lanes[over].info.number}, note for note"
                )
        if len(kept) == 2 and len(names) == 1 and all(lanes[index].info.name for index in kept):
            # Two harps of one score have numbers; the staves of one have its name twice.
            upper, other = sorted(kept)
            groups.append([upper, other])
            why[other] = (
                f"another stave of “{lanes[upper].info.label}”, track {lanes[upper].info.number}, with the same name"
            )
            continue
        groups += [[index] for index in kept]
    return sorted(groups)


def _struck(lane: Lane) -> frozenset[tuple[int, int]]:
    """(tick, pitch) of every note."""
    return frozenset((word >> TICK, word >> 8 & 0x7F) for word in lane.words if strikes(word))
