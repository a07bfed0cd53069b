"""Ordinary spelling against printed music and textbook cases; the sheet and the keys it proposes."""

from __future__ import annotations

import json
import random
from itertools import pairwise
from pathlib import Path

import jsonschema
import mido
import pytest

from livepedal.advice.check import check_file
from livepedal.advice.judging.basis import Basis
from livepedal.advice.spelling.departures import Departure, Drawback
from livepedal.advice.spelling.sheet import Sheet, make_sheet
from livepedal.cli import main
from livepedal.harp import Figures, Pedal, Setting
from livepedal.harp.fifths import name
from livepedal.music.ordinary import REST, ordinary
from livepedal.music.parts import choose_parts
from livepedal.music.song import read_song
from tests.advice.making_midi import Struck, midi
from tests.benchmarks.spelling import FOLDER, measure
from tests.places import RECORDINGS


def sheet(source: Path | bytes, start: str | None = None) -> Sheet:
    song = read_song(source, name="test")
    figures = Figures.builtin()
    setting = None if start is None else Setting.parse(start)
    basis = Basis(figures, figures.instrument("47"), setting=setting)
    return make_sheet(choose_parts(song)[0], basis)


# Berlioz, Grand traité d'instrumentation, p. 86 (djvu page, fr.wikisource): a tutti in B major whose harp is
# written in C♭ major, with
# the chords E♭-G♭-C♭-E♭, F♭-G♭-B♭-D♭, E♭-G♭-C♭, D♭-F♭-G♭-B♭, C♭-E♭-G♭-C♭. The
# octaves are ours.
TUTTI: list[Struck] = [
    (0, 1.8, (63, 66, 71, 75)),
    (2, 1.8, (64, 66, 70, 73)),
    (4, 1.8, (63, 66, 71)),
    (6, 1.8, (61, 64, 66, 70)),
    (8, 3.8, (59, 63, 66, 71)),
]


def test_b_major_is_written_in_c_flat_major() -> None:
    # Berlioz p. 86 has his tutti in B major so for the harp: all pedals up, and nothing moves.
    for start in ("C♭ major", None):
        found = sheet(midi(("Harp", TUTTI), bpm=60), start=start)
        assert found.proposal is None
        assert (found.cost.changes, found.departures) == (0, ())
        spelled = {
            note.spelling.name[:-1]
            for bar in found.bars
            for a in bar.attacks
            for note in a.notes
            if note.spelling
        }
        assert spelled <= {"C♭", "D♭", "E♭", "F♭", "G♭", "A♭", "B♭"}


@pytest.mark.parametrize(("before", "tonic"), [(62, "F♯"), (61, "G♭")])
def test_a_key_is_written_as_the_music_before_it(before: int, tonic: str) -> None:
    # Common practice, no source: after D major comes F♯ major, after D♭ major G♭ major.
    triads = [[key + step for step in (0, 4, 7, 5, 9, 12, 7, 11, 14)] for key in (*[before] * 9, *[66] * 9)]
    names = [name(fifth) for fifth in ordinary([pitch for notes in triads for pitch in notes])]
    assert names[0] == ("D♮" if before == 62 else "D♭")
    assert names[-9] == tonic


def test_names_do_not_hang_on_music_after_a_long_rest() -> None:
    # A long rest (REST): what was written before stands, whatever the composer adds; what comes after goes on from it.
    rng = random.Random(17)
    for _ in range(60):
        keys = [rng.randrange(12) for _ in range(3)]
        notes = [key + 55 + rng.choice((0, 2, 4, 5, 7, 9, 11)) for key in keys for _ in range(12)]
        moments = [500_000 * number + REST * (number // 12) for number in range(len(notes))]
        spelled = [ordinary(notes[:count], moments=moments[:count]) for count in (12, 24, 36)]
        assert spelled[1][:12] == spelled[0]
        assert spelled[2][:24] == spelled[1]


def test_a_chord_has_one_name_for_a_note_in_all_octaves() -> None:
    # Chords are spelled as chords (common practice, no source).
    rng = random.Random(18)
    chords = [sorted({rng.choice((0, 4, 7, 8, 10, 11)) + rng.randrange(36, 84, 12) for _ in range(6)}) for _ in range(300)]
    notes = [(pitch, number) for number, chord in enumerate(chords) for pitch in chord]
    spelled = ordinary([pitch for pitch, _ in notes], moments=[number for _, number in notes])
    names = {(number, pitch % 12, fifth) for (pitch, number), fifth in zip(notes, spelled, strict=True)}
    assert len(names) == len({(number, pitch % 12) for pitch, number in notes})


def test_a_minor_key_keeps_its_leading_note() -> None:
    # recordings/README.md: 07 is in G♯ minor, written F𝄪 and G, and read as A♭ minor its feet never move.
    found = sheet(RECORDINGS / "07-fog-bell.mid")
    assert found.proposal is not None
    assert [one.text for one in found.proposal.rewritings] == [("G♯ minor", "A♭ minor")]
    assert found.proposal.after.changes == 0
    assert any("F𝄪" in departure.doubles for departure in found.departures)


def test_no_key_is_proposed_where_it_saves_nothing() -> None:
    assert sheet(midi(("Harp", TUTTI), bpm=60)).proposal is None  # one setting holds it in either key
    scale: list[Struck] = [(n, 0.8, (p,)) for n, p in enumerate((60, 62, 64, 65, 67, 69, 71, 72))]
    found = sheet(midi(("Harp", scale)))
    assert found.proposal is None
    assert found.departures == ()


def test_departures_say_what_is_written_otherwise() -> None:
    # Set F♭ before: the E that C major would write is played on the F string.
    notes: list[Struck] = [(n, 0.9, (64,)) for n in range(4)]
    found = sheet(midi(("Harp", notes)), start="· · · | · F♭ · ·")
    assert all(note.spelling is not None for bar in found.bars for a in bar.attacks for note in a.notes)
    harp = {
        note.spelling.name for bar in found.bars for a in bar.attacks for note in a.notes if note.spelling
    }
    if harp == {"F♭4"}:
        assert [d.names for d in found.departures] == [(("E♮", "F♭", 4),)]
    else:
        assert harp == {"E♮4"}
        assert found.departures == ()


def test_check_says_why_a_name_is_not_the_ordinary_one() -> None:
    # In E major, G♯ and G in turn: no pedal moves in a tenth of a second (the working player needs 0.15 s,
    # figures.toml), so they need two strings; in four seconds there is time for both names.
    def names_at(gap: float) -> tuple[Departure, ...]:
        chords: list[Struck] = [(1.0 * n, 0.8, (64, 68, 71, 76)) for n in range(6)]
        turns: list[Struck] = [(6 + gap * n, 0.5 * gap, ((68, 67)[n % 2],)) for n in range(6)]
        part = check_file(midi(("Harp", [*chords, *turns])), only="pedals").files[0].parts[0]
        assert part.mine.unplayable == part.mine.audible == 0
        assert len(part.to_dict()["names"]) == len(part.names)
        return part.names

    (found,) = names_at(0.1)
    assert found.reason is Drawback.UNPLAYABLE
    assert ("G♯", "A♭") in [(ordinary, harp) for ordinary, harp, _ in found.names]
    assert names_at(4.0) == ()


def test_standing_at_rehearsal_marks_follows_from_the_changes() -> None:
    found = sheet(RECORDINGS / "06-three-lanterns.mid")
    assert [standing.mark for standing in found.standings] == ["A", "B", "C"]
    assert found.standings[0].setting == found.report.plan.setting
    moved = sum(a.setting[pedal] is not b.setting[pedal] for a, b in pairwise(found.standings) for pedal in Pedal)
    assert moved == len(found.report.plan.changes) == 1  # common practice, no source: one change is the least


def test_the_sheet_names_the_key_signatures_that_ordinary_names_go_by() -> None:
    # 13 has D♭ major, which is in its file; 06 has no key signature (mido reads the same).
    for path in (RECORDINGS / "06-three-lanterns.mid", RECORDINGS / "13-gulls.mid"):
        own = [message.key for track in mido.MidiFile(path).tracks for message in track if message.type == "key_signature"]
        names = [key["key"] for key in sheet(path).to_dict()["keys"]]
        assert names == [f"{key[0]}{key[1:].replace('b', '♭').replace('#', '♯')} major" for key in own]


def test_every_note_is_on_the_sheet_once_at_its_pitch() -> None:
    for path in sorted(RECORDINGS.glob("0[1-7]*.mid")):
        found = sheet(path)
        notes = [note for bar in found.bars for attack in bar.attacks for note in attack.notes]
        assert len(notes) == sum(len(attack) for attack in found.report.plan.spellings)
        assert all(note.spelling is None or note.spelling.pitch == note.pitch for note in notes)


SCHEMA = {
    "type": "object",
    "required": [
        "name",
        "verdict",
        "setting",
        "keys",
        "marks",
        "bars",
        "departures",
        "cost",
        "ordinary_cost",
        "proposal",
    ],
    "properties": {
        "setting": {"type": "object", "propertyNames": {"enum": list("DCBEFGA")}},
        "bars": {
            "type": "array",
            "items": {"type": "object", "required": ["bar", "attacks", "changes"]},
            "minItems": 1,
        },
    },
}


def test_the_json_is_as_documented() -> None:
    document = json.loads(json.dumps(sheet(RECORDINGS / "06-three-lanterns.mid").to_dict()))
    jsonschema.validate(document, SCHEMA)
    note = document["bars"][0]["attacks"][0]["notes"][0]
    assert set(note) == {"note", "string", "position", "ordinary"}


def test_check_has_the_sheet_under_each_part_when_asked(capsys: pytest.CaptureFixture[str]) -> None:
    source = str(RECORDINGS / "06-three-lanterns.mid")
    assert main(["check", "--json", source]) == 0
    plain = json.loads(capsys.readouterr().out)["files"][0]["parts"][0]
    assert "sheet" not in plain
    assert main(["check", "--json", "--sheet", source]) == 0
    part = json.loads(capsys.readouterr().out)["files"][0]["parts"][0]
    whole = sheet(RECORDINGS / "06-three-lanterns.mid").to_dict()
    assert part.pop("sheet") == json.loads(
        json.dumps({k: whole[k] for k in whole if k not in plain and k != "cost"})
    )
    assert part == plain


def spelled(*pitches: int) -> str:
    return " ".join(name(fifth) for fifth in ordinary(pitches))


def test_scales_are_spelled_as_everybody_writes_them() -> None:
    # Key signatures: Standard MIDI Files 1.0, meta event 59; the scales follow from them. C to B and E♭
    # major; the harmonic
    # minor has its raised seventh (any primer of music theory, from memory).
    assert spelled(60, 62, 64, 65, 67, 69, 71, 72) == "C♮ D♮ E♮ F♮ G♮ A♮ B♮ C♮"
    assert spelled(63, 65, 67, 68, 70, 72, 74, 75) == "E♭ F♮ G♮ A♭ B♭ C♮ D♮ E♭"
    assert spelled(64, 66, 68, 69, 71, 73, 75, 76) == "E♮ F♯ G♯ A♮ B♮ C♯ D♯ E♮"
    assert spelled(69, 71, 72, 74, 76, 77, 80, 81) == "A♮ B♮ C♮ D♮ E♮ F♮ G♯ A♮"


def test_notes_outside_the_key_signature_are_those_of_its_major_and_minor() -> None:
    # C♯ minor, four sharps: its dominant has B♯, that one's dominant F𝄪 and A♯ (any primer of music theory, from memory).
    tonic, dominant, of_dominant = (61, 64, 68), (56, 60, 63), (63, 67, 70)
    pitches = [*tonic, *dominant, *of_dominant, *dominant] * 8
    names = [name(fifth) for fifth in ordinary(pitches, 4)]
    assert names[:9] == ["C♯", "E♮", "G♯", "G♯", "B♯", "D♯", "D♯", "F𝄪", "A♯"]
    assert names == names[:12] * 8


def test_after_a_long_rest_names_are_those_of_the_music_that_follows() -> None:
    # D major, a rest of twelve seconds, A flat major: the leading note before it is C♯, whatever follows.
    first, second = [62, 66, 69, 61, 64, 69] * 2, [68, 72, 75, 68, 73, 77] * 6
    seconds = [*range(12), *range(24, 60)]
    found = ordinary([*first, *second], moments=[at * 1_000_000 for at in seconds])
    names = " ".join(name(fifth) for fifth in found)
    assert names == " ".join(2 * ["D♮ F♯ A♮ C♯ E♮ A♮"] + 6 * ["A♭ C♮ E♭ A♭ D♭ F♮"])


@pytest.mark.skipif(not FOLDER.is_dir(), reason="the folder of real music is not here")
@pytest.mark.parametrize(
    ("file", "least"),
    [
        # Meredith: 99.44 % of 195,972 notes of eight baroque and classical composers (Oxford D.Phil. thesis,
        # 2007). Measured here in full by
        # tests/benchmarks/spelling.py; on single files a little less is asked for.
        ("easy/mutopia_bachjs_wtk1_prelude1.mid", 0.99),
        ("harp/mozart_k299_harpaallegro.mid", 0.99),
        ("harp/bishop_home_sweet_home.mid", 0.99),
        ("keyboard/mutopia_bachjs_bwv903fug.mid", 0.99),
    ],
)
def test_ordinary_spelling_agrees_with_print(file: str, least: float) -> None:
    share = measure(FOLDER / file)
    assert share.compared > 500
    assert share.right / share.compared >= least
