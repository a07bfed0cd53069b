"""The plan replays: a little player of the tests' own takes the printed setting and changes, and nothing
else.

It knows the harp from tables written here (harp-facts check table A: the natural MIDI numbers of the strings;
section 2: the feet; MusicXML harp-pedals: the order of the pedals) and the working player's figures from the
README of recordings. It moves the pedals as printed, plays each note on a string that sounds right then, and
checks that no pedal moves while a string of its letter is held unless that is printed as audible, and that no
foot is quicker than its figures.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

import livepedal
from livepedal.harp import Figures
from livepedal.music.attacks import gather_held
from livepedal.music.parts import choose_parts
from livepedal.music.song import read_song

ROOT = Path(__file__).parents[2]
RECORDINGS = sorted((ROOT / "recordings").glob("*.mid"))
MUSIC = ROOT.parent / "shared" / "music"
HARP = sorted((MUSIC / "harp").glob("*.mid"))

NATURAL = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
ALTER = {"flat": -1, "natural": 0, "sharp": 1}
LEFT = "DCB"
FIXED = {
    24: ("C", 1),
    26: ("D", 1),
    103: ("G", 7),
}  # sound of the strings without pedal: C1, D1, G7 at natural
FLICK, TWO_NOTCHES, CYCLE, SETTLE, OVERLAP, GRIP = 150_000, 195_000, 500_000, 20_000, 80_000, 60_000


def strings_for(pitch: int, setting: dict[str, int]) -> list[str]:
    """The letters whose string gives the pitch as the pedals stand (fixed strings as the letter in small)."""
    if pitch in FIXED:
        return [FIXED[pitch][0].lower()]
    found = []
    for letter, natural in NATURAL.items():
        octave, rest = divmod(pitch - setting.get(letter, 99) - natural, 12)
        number = 12 * octave + natural
        if rest == 0 and 24 <= number <= 103 and number not in FIXED:
            found.append(letter)
    return found


def replay(
    part: dict[str, Any], attacks: list[tuple[int, list[tuple[int, int | None]]]], ring: list[int]
) -> int:
    """Play it; the number of notes played. Attacks that a finding calls impossible are passed over, and what
    hangs on them.
    """
    broken = {round(f["seconds"] * 1e6) for f in part["findings"] if not f["audible"]}
    moments = [moment for moment, _ in attacks]
    setting = {letter: ALTER[p] for letter, p in part["setting"].items() if p is not None}
    changes = sorted(part["changes"], key=lambda change: change["seconds"])
    last: dict[str, int] = {}
    for change in changes:
        start = round(change["seconds"] * 1e6)
        foot = "left" if change["pedal"] in LEFT else "right"
        assert change["foot"] == foot
        if not change["possible"]:
            continue
        notches = abs(ALTER[change["to"]] - ALTER[change["from"]])
        due = round(change["for_seconds"] * 1e6)
        assert due in moments
        assert start + (FLICK if notches == 1 else TWO_NOTCHES) + SETTLE <= due
        if foot in last and not broken:
            assert start - last[foot] >= CYCLE
        last[foot] = start
    wanted: dict[str, tuple[int, int]] = {}  # letter -> (held until, gripped until)
    queue = sorted(changes, key=lambda change: change["for_seconds"])
    played = 0
    struck_again: dict[tuple[int, int], int] = {}
    following: dict[int, int] = {}
    for moment, notes in reversed(attacks):
        for pitch, _ in notes:
            if pitch in following:
                struck_again[moment, pitch] = following[pitch]
            following[pitch] = moment
    for moment, notes in attacks:
        while queue and round(queue[0]["for_seconds"] * 1e6) <= moment:
            change = queue.pop(0)
            letter = change["pedal"]
            assert setting[letter] == ALTER[change["from"]]
            setting[letter] = ALTER[change["to"]]
            held, gripped = wanted.get(letter, (-(10**12), -(10**12)))
            start = round(change["seconds"] * 1e6)
            if change["possible"]:
                assert start >= (min(gripped, held) if change["audible"] else held)
        for pitch, release in notes:
            letters = strings_for(pitch, setting)
            if moment in broken and not letters:
                continue
            assert letters, f"{pitch} at {moment} sounds on no string as {setting}"
            played += 1
            again = struck_again.get((moment, pitch))
            if again is not None and (release is None or release > again):
                release = again
            end = moment + ring[pitch]
            if release is not None:
                later = [m for m in moments if moment < m <= release]
                end = min(end, later[-1] if later and release - later[-1] <= OVERLAP else release)
            for letter in letters[:1] if len(letters) == 1 else ():
                held, gripped = wanted.get(letter, (-(10**12), -(10**12)))
                wanted[letter] = max(held, end), max(gripped, moment + GRIP)
    return played


@pytest.mark.parametrize("path", RECORDINGS + HARP, ids=lambda path: path.stem)
def test_the_printed_plan_can_be_played(path: Path) -> None:
    report = livepedal.check_file(path, only=["pedals"]).to_dict()
    ringing = Figures.builtin().ringing
    ring = [ringing.ring(pitch) for pitch in range(128)]
    for part, told in zip(choose_parts(read_song(path)), report["files"][0]["parts"], strict=True):
        attacks = [
            (attack.us, [note for note in attack.notes if 23 <= note[0] <= 104])
            for attack in gather_held(part.events, 35_000)
        ]
        attacks = [(moment, notes) for moment, notes in attacks if notes]
        assert replay(told, attacks, ring) > 0
