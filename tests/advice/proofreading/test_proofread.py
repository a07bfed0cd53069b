"""A printed pedalling, proofread. Words: terms of the trade in five languages (common practice, no source but dictionaries), and
the marks that a published part has (Boulanger, by the table beside it). Slips: each made by hand in a small part of ours, where
it can be seen what a proofreader would say.
"""

from __future__ import annotations

import csv
import json
from pathlib import Path

import mido
import pytest

from livepedal.advice.check import check_file
from livepedal.advice.proofreading.slips import Printed, Slip
from livepedal.advice.report import CheckedPart
from livepedal.cli import main
from livepedal.errors import LivepedalError
from livepedal.music.pedal_words import marks_in, pedal_words
from livepedal.sources.scores.written import Words
from livepedal.views.report.look import Look
from livepedal.views.report.printed import sentence
from livepedal.views.signs import FULL
from tests.advice import making_midi
from tests.places import EVERY_RECORDING, MUSIC
from tests.sources.scores.making import diagram, note, notes, score, words

ALL_NATURAL = diagram("D C B E F G A")


def said(text: str, german: bool = False) -> str:
    return " ".join(f"{pedal.letter}{position.sign}" for pedal, position in pedal_words(text, german))


@pytest.mark.parametrize(
    ("text", "stands"),
    [
        ("E♭", "E♭"),
        ("Eb", "E♭"),
        ("E flat", "E♭"),
        ("E natural", "E♮"),
        ("F sharp, B-flat", "F♯ B♭"),
        ("C#\nF♮", "C♯ F♮"),  # two stacked
        ("B♭ F♯", "B♭ F♯"),
        ("C#F#", "C♯ F♯"),
        ("Mi♭", "E♭"),
        ("Mi b", "E♭"),
        ("Ré ♮", "D♮"),
        ("la bémol, fa dièse, si bécarre", "A♭ F♯ B♮"),
        ("préparez mi ♮ fa ♮ sol ♭ la ♮ si ♭ do ♮ ré ♯", "E♮ F♮ G♭ A♮ B♭ C♮ D♯"),
        ("do diesis e fa bequadro", "C♯ F♮"),
        ("si bemolle", "B♭"),
        ("re sostenido, si bemol", "D♯ B♭"),
        ("mi becuadro", "E♮"),
        ("Es", "E♭"),
        ("As, Fis", "A♭ F♯"),
        ("H", "B♮"),
        ("D C B | E F G Ab", "D♮ C♮ B♮ E♮ F♮ G♮ A♭"),
    ],
)
def test_pedal_words(text: str, stands: str) -> None:
    assert said(text) == stands


@pytest.mark.parametrize(
    "text",
    ["la", "B", "A", "Solo", "des", "es", "a tempo", "e", "étouffez", "do not hurry", "près de la table", "sol", "fa la la", ""],
)  # fmt: skip
def test_words_that_say_something_else(text: str) -> None:
    assert said(text) == ""


def test_the_german_b_is_b_flat_only_where_the_part_is_german() -> None:
    def letters(*texts: str) -> list[str]:
        marks = marks_in([(n, Words(n, text)) for n, text in enumerate(texts)])
        return [f"{pedal.letter}{position.sign}" for mark in marks for pedal, position in mark.stands]

    assert letters("B", "Fis") == ["B♭", "F♯"]
    assert letters("B", "H") == ["B♭", "B♮"]
    assert letters("B", "F♯") == ["F♯"]


# -- slips


def judged(*measures: str, tempo: int = 60) -> CheckedPart:
    data = score(f'<sound tempo="{tempo}"/>{measures[0]}', *measures[1:])
    (file,) = check_file(data, name="ferry.musicxml", only=("pedals",)).files
    return file.parts[0]


def printed(part: CheckedPart) -> Printed:
    assert part.printed is not None
    return part.printed


def told(part: CheckedPart) -> list[str]:
    return [sentence(fault, part, Look(FULL)) for fault in printed(part).faults]


def test_a_right_pedalling_has_nothing_to_mend() -> None:
    part = judged(
        ALL_NATURAL + notes("C4 F4 G4 A4"),
        words("F#") + notes("C4 D4 E4 F#4"),
        words("Fn, Bb") + notes("G4 E4 F4 Bb4"),
    )
    assert told(part) == []
    assert printed(part).changes == 3
    assert printed(part).before == 0


def test_a_score_without_marks_has_no_printed_pedalling() -> None:
    assert judged(notes("C4 F4 G4 A4") + words("dolce")).printed is None


def test_a_change_that_was_never_marked() -> None:
    part = judged(ALL_NATURAL + notes("C4 F4 G4 A4"), notes("C4 D4"), notes("E4 C4 F#4 G4"), notes("F#4"))
    assert told(part) == ["bar 3, beat 3: F♯ is needed, but no mark has set it: the pedal has been at F♮ since bar 1"]


def test_a_mark_behind_its_note() -> None:
    part = judged(ALL_NATURAL + notes("C4 A4 G4 F4"), notes("C4 D4 Ab4") + words("A♭") + notes("Ab4"))
    assert told(part) == [
        "bar 2, beat 4: the mark for A♭ is 1 beat too late: A♭ is needed in bar 2, beat 3"
    ]


def test_a_mark_at_its_note_is_too_late_for_the_foot() -> None:
    # The working player's flick is 0.15 s, and it settles 0.02 s before the note (design; figures.toml)
    part = judged(ALL_NATURAL + notes("C4 A4 G4 F4"), notes("C4 D4") + words("A♭") + notes("Ab4 C4"))
    (fault,) = printed(part).faults
    assert (fault.slip, fault.available) == (Slip.HURRIED, 0)
    assert told(part)[0].startswith(
        "bar 2, beat 3: the mark for A♭ is 0.17 s too late for the working player"
    )


def test_two_changes_of_one_foot_at_once_take_longer_than_two_of_two_feet() -> None:
    # One change of a foot after the other, 0.5 s from start to start (Volpé Bligh: two a second and foot)
    def marked(text: str, name: str) -> list[Slip]:
        chord = note("E4", 0.5) + note("Ab4", 0.5) + note(name, 0.5, chord=True)
        part = judged(ALL_NATURAL + notes("C4 A4 G4 F4"), words(text) + chord + note("C5", 3))
        return [fault.slip for fault in printed(part).faults]

    assert marked("F# Ab", "F#4") == [Slip.HURRIED]
    assert marked("D# Ab", "D#4") == []


def test_a_mark_ahead_of_a_note_that_needs_the_letter_as_it_stood() -> None:
    part = judged(ALL_NATURAL + notes("C4 F4 G4 A4"), words("F#") + notes("C4 F4 G4 A4"), notes("F#4 G4"))
    assert told(part) == [
        "bar 2, beat 1: the mark for F♯ is too early: F♮ is still needed in bar 2, beat 2"
    ]


def test_marks_that_nobody_needs() -> None:
    part = judged(
        ALL_NATURAL + notes("C4 F4 G4 A4"),
        words("Fn") + notes("C4 D4 F4") + words("Bb") + notes("A4"),
        words("G#") + notes("C4 D4 E4 F4"),
    )
    assert told(part) == [
        "bar 2, beat 1: the mark for F♮ is not needed: the pedal is there already",
        "bar 2, beat 4: the mark for B♭ is not needed: B is not played again",
        "bar 3, beat 1: the mark for G♯ is not needed: G is not played again",
    ]


def test_a_mark_that_a_diagram_contradicts() -> None:
    part = judged(
        ALL_NATURAL + notes("C4 F4 G4 A4"),
        words("F#") + notes("C4 D4 E4 G4"),
        diagram("D C B E Fb G A") + notes("Fb4"),
    )
    assert told(part)[0] == (
        "bar 2, beat 1: the mark for F♯ is contradicted by F♭ in bar 3, and no F is played between them"
    )  # fmt: skip


def test_a_pedal_that_moves_under_its_own_string() -> None:
    long = note("F3", 4, voice=2, staff=2)
    part = judged(
        ALL_NATURAL
        + long
        + "<backup><duration>48</duration></backup>"
        + notes("C4 D4")
        + words("F#")
        + notes("E4 F#4")
    )
    assert [fault.slip for fault in printed(part).faults] == [Slip.AUDIBLE]
    assert "the string of F♮3 has to sound for another 2.00 s" in told(part)[0]


def test_what_comes_before_the_first_mark_is_counted() -> None:
    part = judged(notes("F4 F#4 F4 G4"), diagram("D C B E F G A") + notes("F4 G4 A4 B4"))
    assert printed(part).before == 2
    assert told(part) == []


def test_a_diagram_is_carried_out_in_the_rest_before() -> None:
    # A mark at the note would be too late; a diagram says how the pedals stand from there on (W3C: harp-pedals "diagrams").
    part = judged(
        ALL_NATURAL + notes("C4 F4") + note("rest", 2), diagram("Db C Bb E F G Ab") + notes("Db4 Bb4 Ab4 C4")
    )
    assert told(part) == []


# -- MIDI


def midi(texts: list[tuple[int, str, str]], path: Path) -> Path:
    """C F G A in bar 1, D E F♯ G in bar 2, and texts: (quarter, kind, text)."""
    notes = [(at, 0.9, [pitch]) for at, pitch in enumerate((60, 65, 67, 69, 62, 64, 66, 67))]
    path.write_bytes(making_midi.midi(("Harp", notes), bpm=60, texts=texts))
    return path


@pytest.mark.parametrize("kind", ["text", "marker", "lyrics"])
def test_texts_in_a_midi_file_are_proofread_when_they_are_asked_for(kind: str, tmp_path: Path) -> None:
    path = midi([(0, kind, "D C B E F G A"), (4, kind, "F#")], tmp_path / "ferry.mid")
    (file,) = check_file(path, as_marked=True).files
    assert printed(file.parts[0]).faults == ()
    assert printed(file.parts[0]).changes == 1
    (file,) = check_file(path).files
    assert file.parts[0].printed is None


def test_what_marked_writes_is_a_pedalling_without_slips(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = midi([], tmp_path / "ferry.mid")
    marked = tmp_path / "marked.mid"
    assert main(["check", "--marked", str(marked), str(path)]) == 0
    capsys.readouterr()
    assert main(["check", "--plain", "--as-marked", "--fail-on", "printed", str(marked)]) == 0
    out = capsys.readouterr().out
    assert "Printed pedalling: 2 marks, which make 1 pedal change" in out
    assert "From the first mark on every pedal is right" in out


def test_a_file_without_such_texts_says_so(tmp_path: Path) -> None:
    path = midi([(0, "text", "dolce")], tmp_path / "ferry.mid")
    with pytest.raises(LivepedalError, match="no pedal changes in its texts"):
        check_file(path, as_marked=True)


# -- the command


def test_slips_change_the_exit_code_only_where_they_are_asked_for(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "ferry.musicxml"
    path.write_bytes(score(ALL_NATURAL + notes("C4 F4 G4 A4"), notes("C4 D4 E4 F#4")))
    assert main(["check", "--plain", str(path)]) == 0
    out = capsys.readouterr().out
    assert "Printed pedalling: 1 mark, which makes no pedal changes" in out
    assert "bar 2, beat 4: F♯ is needed, but no mark has set it: the pedal has been at F♮ since bar 1" in out
    assert main(["check", "--plain", "--fail-on", "printed", str(path)]) == 1
    capsys.readouterr()
    main(["check", "--json", str(path)])
    part = json.loads(capsys.readouterr().out)["files"][0]["parts"][0]
    assert part["printed"]["faults"][0]["kind"] == "missing"
    assert part["printed"]["marks"][0]["feet"] == ["left", "right"]


# -- real parts


def test_boulanger_s_printed_marks() -> None:
    path = MUSIC / "scores" / "boulanger_matin_de_printemps.mxl"
    if not path.is_file():
        pytest.skip("no ../shared/music")
    (file,) = check_file(path, only=("pedals",), pedalling=False).files
    part = file.parts[0]
    with open(MUSIC / "harp" / "boulanger_matin_de_printemps.pedals.csv", encoding="utf-8") as stream:
        rows = list(csv.DictReader(stream))
    theirs = [(int(row["measure"]), row["step"], int(row["alter"])) for row in rows]
    ours = [
        (int(part.place(mark.us).bar), pedal.letter, int(position))
        for mark in printed(part).marks
        for pedal, position in mark.stands
    ]
    assert ours == theirs
    # G♯ and D♯ of bar 180 are set nowhere, though the mark on its second beat takes both back (the notes: .notes.csv).
    missing = {
        (int(part.place(fault.us).bar), f"{fault.pedal.letter}{fault.position.sign}")
        for fault in printed(part).faults
    }
    assert {(180, "D♯"), (180, "G♯")} <= missing
    assert not {bar for bar, _ in missing} & set(range(175, 180))


@pytest.mark.slow
def test_bolero_s_printed_changes_as_texts(tmp_path: Path) -> None:
    source = MUSIC / "harp-more" / "ravel_bolero.mid"
    if not source.is_file():
        pytest.skip("no ../shared/music")
    file = mido.MidiFile(source, charset="utf-8")
    track = mido.MidiTrack()
    file.tracks.append(track)
    now = 0
    with open(source.with_name("ravel_bolero.pedals.csv"), encoding="utf-8") as stream:
        rows = list(csv.DictReader(stream))
    for row in rows:
        at = round(float(row["onset_q"]) * file.ticks_per_beat)
        track.append(mido.MetaMessage("text", text=row["raw"], time=at - now))
        now = at
    file.save(tmp_path / "bolero.mid")
    (report,) = check_file(tmp_path / "bolero.mid", only=("pedals",), pedalling=False, as_marked=True).files
    part = report.parts[0]
    assert [
        f"{pedal.letter} {int(position)}" for mark in printed(part).marks for pedal, position in mark.stands
    ] == [f"{row['step']} {row['alter']}" for row in rows]
    slips = [fault.slip for fault in printed(part).faults]
    # Nearly all of what it prints is in time; A♭ stands all through, so its marks are reminders.
    assert set(slips) == {Slip.NEEDLESS, Slip.MISSING}
    assert all(fault.pedal.letter == "A" for fault in printed(part).faults if fault.slip is Slip.NEEDLESS)
    assert slips.count(Slip.MISSING) <= 5


@pytest.mark.slow
@pytest.mark.parametrize("path", EVERY_RECORDING, ids=lambda path: path.stem)
def test_the_planner_and_the_proofreader_agree(
    path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # Two pieces of code that know nothing of each other: a plan without trouble has no slips, and one with trouble has some.
    marked = tmp_path / "marked.mid"
    main(["check", "--quiet", "--only", "pedals", "--marked", str(marked), str(path)])
    capsys.readouterr()
    (file,) = check_file(marked, as_marked=True, only=("pedals",)).files
    for part in file.parts:
        trouble = part.outcome.name != "PLAYS" or part.plan.audible > 0
        assert bool(printed(part).faults) == trouble
