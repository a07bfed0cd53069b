"""Real music for the model's tests: the bundled recordings, and scores in ../shared/music where that is
present.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path

from livepedal.harp import Figures
from livepedal.music.attacks import Gathered, gather_held
from livepedal.music.parts import Wanted, choose_parts
from livepedal.music.song import Part, read_song
from tests.judge.cpsat import Attack, Note, Passage
from tests.places import ROOT

RECORDINGS = sorted((ROOT / "recordings").glob("*.mid"))
SCORES = sorted(
    path for folder in ("harp", "easy") for path in (ROOT.parent / "shared/music" / folder).glob("*.mid")
)
FIGURES = Figures.builtin()


@cache
def parts_of(path: Path) -> tuple[Part, ...]:
    """The parts of a file; what is written for a keyboard is judged as one harp."""
    song = read_song(path)
    keyboard = path.parent.name == "easy"
    tracks = [str(lane.info.number) for lane in song.lanes if lane.info.notes] if keyboard else []
    return choose_parts(song, Wanted(tuple(tracks), keyboard))


def attacks_of(part: Part) -> tuple[Gathered, ...]:
    events = (event for event in part.events if getattr(event, "pitch", 23) >= 23)
    return gather_held(events, FIGURES.window.attack, FIGURES.glissando)


def passage_of(attacks: Sequence[Gathered], kind: str = "cut") -> Passage:
    """Gathered attacks as the judge takes them."""
    return Passage(
        tuple(Attack(a.us, tuple(Note(pitch, release) for pitch, release in a.notes)) for a in attacks),
        kind=kind,
    )


def cut(rng: random.Random, paths: Sequence[Path], most: int) -> Passage:
    """A stretch of up to `most` attacks of some part, played up to four times as fast, its times in whole
    milliseconds.
    """
    attacks = attacks_of(rng.choice(parts_of(rng.choice(paths))))
    count = rng.randint(4, most)
    begin = rng.randrange(max(1, len(attacks) - count))
    percent = rng.choice((100, 100, 80, 60, 40, 25))
    zero = attacks[begin].us

    def at(us: int) -> int:
        return (us - zero) * percent // 100_000 * 1_000

    found: list[Gathered] = []
    for attack in attacks[begin : begin + count]:
        notes = tuple((pitch, None if end is None else at(end)) for pitch, end in attack.notes)
        if found and found[-1].us == at(attack.us):
            continue
        found.append(Gathered(at(attack.us), notes))
    return replace(passage_of(found), kind="cut")
