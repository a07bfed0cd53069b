"""The bundled recordings: made again byte for byte, listed with a verdict, and truly what their README says.

Nothing here asks livepedal anything. The files are read with mido alone, so that what is claimed of them in
recordings/README.md (and later held against the program) is checked apart from the program.
"""

import importlib.util
import re
from collections import Counter
from collections.abc import Iterator
from itertools import combinations, pairwise, product
from pathlib import Path
from types import ModuleType

import mido
import pytest

from tests.places import RECORDINGS

FOLDER = RECORDINGS
FILES = sorted(path.name for path in FOLDER.glob("*.mid"))
VERDICTS = {"easy", "playable", "virtuoso", "unplayable"}
ROW = re.compile(
    r"^\| \[(?P<file>[^\]]+)\]\((?P<link>[^)]+)\) \|[^|]*\| (?P<feet>[^|]+) \| (?P<whole>[^|]+) \|", re.M
)
HARP = 46  # General MIDI, Orchestral Harp: 47 counting from 1, 46 as the data byte (GNU LilyPond manual, B.6)


@pytest.fixture(scope="module")
def maker() -> ModuleType:
    spec = importlib.util.spec_from_file_location("make_recordings", FOLDER / "make_recordings.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def read(name: str) -> mido.MidiFile:
    return mido.MidiFile(FOLDER / name, charset="utf-8")


def is_strike(message: mido.Message) -> bool:
    return bool(message.type == "note_on" and message.velocity > 0)


def strikes(name: str) -> list[tuple[float, int]]:
    """(seconds, MIDI number) of every note struck in a file, in order of time."""
    now, found = 0.0, []
    for message in read(name):
        now += message.time
        if is_strike(message):
            found.append((now, message.note))
    return found


def harp_tracks(file: mido.MidiFile) -> Iterator[mido.MidiTrack]:
    for track in file.tracks:
        if any(message.type == "program_change" and message.program == HARP for message in track):
            yield track


def test_the_script_makes_the_same_bytes_again(maker: ModuleType, tmp_path: Path) -> None:
    paths = [path.relative_to(tmp_path) for path in maker.write_all(tmp_path)]
    assert [str(path) for path in paths if path.name == str(path)] == FILES
    assert sorted(paths) == sorted(path.relative_to(FOLDER) for path in FOLDER.glob("**/*.mid"))
    for path in paths:
        assert (tmp_path / path).read_bytes() == (FOLDER / path).read_bytes(), path


def test_there_are_enough_of_both_types() -> None:
    assert len(FILES) >= 8
    assert {read(name).type for name in FILES} == {0, 1}


@pytest.mark.parametrize("name", FILES)
def test_none_is_longer_than_twenty_seconds(name: str) -> None:
    assert 5 < read(name).length <= 20


def test_the_table_lists_every_file_with_a_verdict() -> None:
    rows = list(ROW.finditer((FOLDER / "README.md").read_text(encoding="utf-8")))
    assert [row["file"] for row in rows] == FILES
    for row in rows:
        assert row["link"] == row["file"]
        for cell in (row["feet"], row["whole"]):
            assert set(re.split(r", | ", cell)) <= VERDICTS | {"audible"}, cell
    assert {row["feet"].split(",")[0] for row in rows} == VERDICTS


@pytest.mark.parametrize("name", FILES)
def test_harps_have_the_harp_program_and_release_their_keys(name: str) -> None:
    file = read(name)
    tracks = list(harp_tracks(file))
    with_notes = [track for track in file.tracks if any(message.type == "note_on" for message in track)]
    assert len(tracks) == (2 if name == "08-two-banks.mid" else 1)
    if name != "15-cue-export.mid":
        assert len(tracks) == len(with_notes)
        for track in tracks:
            ons = Counter(message.note for message in track if is_strike(message))
            offs = Counter(message.note for message in track if message.type == "note_off")
            assert ons == offs
            assert len({message.velocity for message in track if is_strike(message)}) > 4, "no dynamics"


def test_one_setting_holds_four_of_them_and_no_others() -> None:
    """By brute force over all 3^7 settings (strings: Volpé Bligh, Writing for the Pedal Harp, item 3)."""
    naturals = (2, 0, 11, 4, 5, 7, 9)
    settings = [
        {(natural + notch) % 12 for natural, notch in zip(naturals, notches, strict=True)}
        for notches in product((-1, 0, 1), repeat=7)
    ]
    assert len(settings) == 2187

    def held(name: str) -> bool:
        sounding = {note % 12 for _, note in strikes(name)}
        return any(sounding <= setting for setting in settings)

    assert [name for name in FILES if held(name)] == [
        "01-slack-water.mid",
        "07-fog-bell.mid",
        "09-wake-glissando.mid",
        "13-gulls.mid",
    ]
    # Three neighbouring semitones that no setting holds: G, A flat, A only; the figure of 03 turns on them.
    bare = [c for c in combinations(range(12), 3) if not any(set(c) <= setting for setting in settings)]
    assert bare == [(7, 8, 9)]


def test_the_wheel_at_half_tempo_is_the_same_wheel() -> None:
    full, half = strikes("03-paddle-wheel.mid"), strikes("04-paddle-wheel-half.mid")
    assert [note for _, note in full] == [note for _, note in half]
    assert [2 * at for at, _ in full] == pytest.approx([at for at, _ in half])
    # A, G sharp, G in a row at 0.15 s.
    line = [(at, note) for at, note in full if note >= 60]
    assert [note for _, note in line[:3]] == [69, 68, 67]
    assert [at for at, _ in line[:3]] == pytest.approx([0, 0.15, 0.30])


def test_the_revision_keeps_tempo_and_length() -> None:
    before, after = read("03-paddle-wheel.mid"), read("05-paddle-wheel-revised.mid")
    assert before.length == pytest.approx(after.length)
    old, new = strikes("03-paddle-wheel.mid"), strikes("05-paddle-wheel-revised.mid")
    assert [at for at, _ in old] == pytest.approx([at for at, _ in new])
    assert 0 < sum(a != b for a, b in zip(old, new, strict=True)) < len(old) / 4


def test_the_lanterns_are_the_three_triads() -> None:
    bars: list[set[int]] = [set(), set(), set(), set()]
    for at, note in strikes("06-three-lanterns.mid"):
        bars[int((at + 0.05) / (4 * 60 / 76))].add(note % 12)
    major = [{root % 12, (root + 4) % 12, (root + 7) % 12} for root in (4, 6, 8, 8)]  # E, F sharp, G sharp
    assert bars == major


def test_the_bell_strikes_g_three_times_running() -> None:
    """F double sharp sounds G, and G is on one string only (harp-making common practice; counted above)."""
    bells = [at for at, note in strikes("07-fog-bell.mid") if note == 67]
    gaps = [b - a for a, b in pairwise(bells)]
    assert sum(gap == pytest.approx(60 / 160 / 4) for gap in gaps) == 7


def test_the_banks_never_sound_in_the_same_bar() -> None:
    file = read("08-two-banks.mid")
    bars = []
    for track in harp_tracks(file):
        now, mine = 0, set()
        for message in track:
            now += message.time
            if is_strike(message):
                # Played, so a note may come some hundredths of a second before its bar.
                mine.add(int((now / file.ticks_per_beat + 0.05) // 4))
        bars.append(mine)
    assert bars == [{0, 2, 4}, {1, 3, 5}]


def test_the_wake_runs_over_the_strings_as_set() -> None:
    """Berlioz, Grand traité (p. 90 of the scan at fr.wikisource.org): C E flat G flat A doubled, but for A.

    The run is made here from the setting D sharp, C natural, B sharp, E flat, F sharp, G flat, A natural.
    """
    natural = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
    notch = {"C": 0, "D": 1, "E": -1, "F": 1, "G": -1, "A": 0, "B": 1}
    upward = [12 * (octave + 1) + natural[x] + notch[x] for octave in (3, 4, 5) for x in natural] + [84]
    notes = [note for _, note in strikes("09-wake-glissando.mid")]
    text = ",".join(map(str, notes))
    assert ",".join(map(str, upward)) in text
    assert ",".join(map(str, reversed(upward))) in text
    assert {note % 12 for note in notes} == {0, 3, 6, 9}


def test_the_export_is_as_untidy_as_promised() -> None:
    file = read("15-cue-export.mid")
    (harp,) = harp_tracks(file)
    messages = [message for track in file.tracks for message in track]
    assert file.type == 1
    assert "„Weidenkätzchen“" in harp.name
    assert "„Weidenkätzchen“".encode() in (FOLDER / "15-cue-export.mid").read_bytes()
    assert len({m.program for m in messages if m.type == "program_change"}) == 3
    assert any(m.type == "note_on" and m.channel == 9 for m in messages)
    assert len({m.tempo for m in messages if m.type == "set_tempo"}) == 3
    assert len([m for m in messages if m.type == "time_signature"]) == 2
    assert {m.value for m in harp if m.is_cc(64)} == {0, 127}
    # The harp's lowest sound is C flat 1, 23 (Wikipedia, "Pedal harp").
    assert sum(is_strike(m) and m.note < 23 for m in harp) == 4
    down: Counter[int] = Counter()
    again = 0
    for message in harp:
        if is_strike(message):
            again += down[message.note] > 0
            down[message.note] += 1
        elif message.type == "note_on":
            down[message.note] = 0
    assert again == 1
    assert sorted(note for note, count in down.items() if count) == [81, 84]
