"""A spelling that is asked for: understood, kept to, and held against the best one."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from livepedal.advice.check import check_file
from livepedal.advice.remedies.remedy import RemedyKind
from livepedal.advice.remedies.telling import Teller
from livepedal.advice.report import CheckedPart
from livepedal.advice.spelling.given import AskedSpelling, Compared
from livepedal.advice.spelling.requests import parse_request, read_requests
from livepedal.errors import LivepedalError
from livepedal.harp import Figures
from livepedal.harp.fifths import name
from livepedal.model.findings import Kind, Verdict
from tests.advice.making_midi import midi
from tests.places import RECORDINGS


def judged(source: Path | bytes, *requests: str, as_written: bool = False, **options: Any) -> CheckedPart:
    wish = AskedSpelling(tuple(parse_request(text) for text in requests), as_written)
    report = check_file(
        source, name="test", figures=Figures.builtin(), spelling=wish, only=("pedals",), **options
    )
    return report.files[0].parts[0]


def compared(part: CheckedPart) -> Compared:
    assert part.spelling is not None
    return part.spelling


def test_three_triads_written_flat_or_mixed() -> None:
    # Common practice, no source: three major triads sounding E, F♯/G♭, G♯/A♭. Written
    # F♭-G♭-A♭ they
    # need 1 pedal change (C♭ to C♮), written E-G♭-A♭ 3 (G♯ to G♭, B to B♭, E to E♭); with a free choice 1.
    lanterns = RECORDINGS / "06-three-lanterns.mid"
    flat = judged(lanterns, "1: F♭ major", "2: G♭ major", "3-: A♭ major")
    assert [(c.pedal.letter, int(c.start), int(c.goal)) for c in flat.plan.changes] == [("C", -1, 0)]
    mixed = judged(lanterns, "1: E major", "2: G♭ major", "3-: A♭ major")
    assert {(c.pedal.letter, int(c.start), int(c.goal)) for c in mixed.plan.changes} == {
        ("G", 1, -1),
        ("B", 0, -1),
        ("E", 0, -1),
    }
    assert (compared(mixed).given.changes, compared(mixed).best.changes) == (3, 1)
    assert (compared(flat).given.changes, compared(flat).best.changes) == (1, 1)


def test_what_is_asked_for_is_what_is_played() -> None:
    lanterns = RECORDINGS / "06-three-lanterns.mid"
    part = judged(lanterns, "all: F♭ G♭ A♭ C♭ D♭ B♭")
    names = {s.name[:2] for attack in part.plan.spellings for s in attack if s is not None}
    assert names & {"E♮", "F♯", "G♯", "B♮", "C♯", "A♯"} == set()


def test_a_double_sharp_goes_to_the_string_that_can_play_it() -> None:
    # Berlioz, Grand traité d'instrumentation, p. 86 (djvu page, fr.wikisource): double sharps and flats do
    # not exist as pedals.
    part = judged(RECORDINGS / "07-fog-bell.mid", "all: F𝄪")
    assert any(
        "F𝄪" in remark and "cannot be set" in remark and "played on G♮" in remark
        for remark in compared(part).remarks
    )
    assert {s.name[:2] for attack in part.plan.spellings for s in attack if s and s.pitch % 12 == 7} == {"G♮"}


def test_berlioz_writes_his_double_flats_on_other_strings() -> None:
    # Berlioz p. 86, example 1: D𝄫-F♭-A𝄫-C♭ together is playable, with C natural, B natural, G natural, F♭,
    # the others flat: no change
    # from there. His C♭ is then on the B string; left on the C string, D𝄫 goes to
    # B♯.
    chord = midi(("Harp", [(0, 4, (60, 64, 67, 71))]))
    his = judged(chord, "1: D𝄫 F♭ A𝄫 B♮", start="D♭ C♮ B♮ | E♭ F♭ G♮ A♭")
    assert (his.verdict, len(his.plan.changes)) == (Verdict.EASY, 0)
    assert [s.name for s in his.plan.spellings[0] if s] == ["C♮4", "F♭4", "G♮4", "B♮4"]
    strict = judged(chord, "1: D𝄫 F♭ A𝄫 C♭")
    assert (strict.verdict, len(strict.plan.changes)) == (Verdict.EASY, 0)
    assert [s.name for s in strict.plan.spellings[0] if s] == ["B♯3", "F♭4", "G♮4", "C♭5"]


def test_two_positions_of_one_letter_together_are_impossible_as_written() -> None:
    # Berlioz p. 85: chords with F natural in the left hand and F♯ in the right are impossible as written;
    # playable when one F is taken on
    # another string.
    chord = midi(("Harp", [(0, 2, (53, 66, 69))]))
    part = judged(chord, "1: F♮ F♯")
    assert [finding.kind for finding in part.findings] == [Kind.ONE_LETTER]
    assert compared(part).best.verdict is Verdict.EASY
    assert any("asked for" in reason.why for reason in part.findings[0].reasons)


def test_key_signatures_are_the_written_spelling() -> None:
    # B major and C♭ major (Berlioz p. 86): seven pedals apart when all of them stand up before.
    tutti = [(n, 0.9, (p,)) for n, p in enumerate((59, 61, 63, 64, 66, 68, 70, 71))]
    start = "Db Cb Bb Eb Fb Gb Ab"
    sharp = judged(midi(("Harp", tutti), key="B", bpm=40), as_written=True, start=start)
    assert (compared(sharp).given.changes, compared(sharp).best.changes) == (7, 0)
    flat = judged(midi(("Harp", tutti), key="Cb", bpm=40), as_written=True, start=start)
    assert compared(flat).given.changes == 0
    with pytest.raises(LivepedalError, match="no key signature"):
        judged(midi(("Harp", tutti)), as_written=True)


def test_where_two_speak_of_one_pitch_the_later_counts() -> None:
    notes = midi(("Harp", [(0, 1, (61,)), (4, 1, (61,))]), bpm=60)
    part = judged(notes, "all: C♯", "2: D♭")
    assert [s.name for attack in part.plan.spellings for s in attack if s] == ["C♯4", "D♭4"]


@pytest.mark.parametrize(
    ("text", "first", "last", "names"),
    [
        ("3-7: F♭ major", 3, 7, "B𝄫 F♭ C♭ G♭ D♭ A♭ E♭"),
        ("12: F𝄪", 12, 12, "F𝄪"),
        ("bar 4: Ebb, f#", 4, 4, "E𝄫 F♯"),
        ("2-: D♭ C♮ B♭ | E♭ F♮ G♮ A♭", 2, None, "D♭ C♮ B♭ E♭ F♮ G♮ A♭"),
        ("all: a minor", None, None, "F♮ C♮ G♮ D♮ A♮ E♮ B♮ F♯ G♯"),
        ("1–2: Eb", 1, 2, "E♭"),
    ],
)
def test_requests_are_understood(text: str, first: int | None, last: int | None, names: str) -> None:
    request = parse_request(text)
    assert (request.first, request.last) == (first, last)
    assert {name(note.fifth) for note in request.notes} == set(names.split())


@pytest.mark.parametrize("text", ["F♭ major", "3:", "7-3: F♭", "x: F♭", "3: H major", "3: F♭ and so on", ""])
def test_a_request_that_is_not_understood_is_told_in_one_sentence(text: str) -> None:
    with pytest.raises(LivepedalError) as error:
        parse_request(text)
    assert "\n" not in str(error.value)
    assert str(error.value).endswith((".", ")."))


def test_a_file_of_requests(tmp_path: Path) -> None:
    file = tmp_path / "spelling.txt"
    file.write_text("; the last verse\n1-2: F♭ major\n\n3: F# C#\n", encoding="utf-8")
    assert [request.first for request in read_requests(file)] == [1, 3]
    file.write_text("1: F♭\n2 G♭\n", encoding="utf-8")
    with pytest.raises(LivepedalError, match="line 2"):
        read_requests(file)
    with pytest.raises(LivepedalError, match="cannot be read"):
        read_requests(tmp_path / "none.txt")


def test_bars_beyond_the_music_are_told() -> None:
    with pytest.raises(LivepedalError, match="bars 1 to 1"):
        judged(midi(("Harp", [(0, 1, (60,))])), "9: F♭")


def test_a_double_sharp_that_another_wish_overrules_is_not_spoken_of() -> None:
    # Around G♯ minor the sounding G is the leading note F𝄪 (the key's raised seventh).
    line = [
        (0.5 * n, 0.4, (p,)) for n, p in enumerate((68, 67, 68, 70, 71, 70, 68, 67, 68, 63, 64, 66, 68, 67))
    ]
    music = midi(("Harp", line), key="B")
    assert any("F𝄪" in remark for remark in compared(judged(music, as_written=True)).remarks)
    assert compared(judged(music, "all: G", as_written=True)).remarks == ()
    assert compared(judged(music, "all: F𝄪", "all: G")).remarks == ()


def test_a_double_sharp_is_told_with_all_its_bars() -> None:
    line = [(float(n), 0.4, (p,)) for n, p in enumerate((68, 67, 68, 70, 71, 70, 68, 67))]
    music = midi(("Harp", line), key="C", bpm=60)
    (alone,) = compared(judged(music, "1: F𝄪", "2: F𝄪")).remarks
    assert alone.endswith("it is played on G♮ (2 notes, bars 1 and 2)")


def test_a_double_flat_is_told_with_the_string_that_plays_it() -> None:
    # C♭ on the C string leaves D𝄫 to the B string (Berlioz p. 86, example 1); a bar later nothing is in its way.
    music = midi(("Harp", [(0, 4, (60, 64, 67, 71)), (8, 1, (60,))]))
    part = judged(music, "1: D𝄫 F♭ C♭", "3: D𝄫")
    played = {s.name[:2] for attack in part.plan.spellings for s in attack if s is not None and s.pitch == 60}
    (remark,) = compared(part).remarks
    assert "B♯" in played
    assert {string for string in ("B♯", "C♮") if string in remark} == played
    assert " or " not in remark
    assert (compared(part).notes, compared(part).doubled) == (4, 2)


def test_a_spelling_that_no_note_has_asks_for_nothing() -> None:
    (remark,) = compared(judged(midi(("Harp", [(0, 1, (60,))])), "1: B𝄪")).remarks
    assert remark == "No note there has a pitch that “1: B𝄪” names, so it has no effect"


def test_remedies_say_that_they_leave_the_spelling_free() -> None:
    """What is in the way only as it is asked to be spelled is told apart, and what is in the way then is not kept
    back.
    """
    file = RECORDINGS / "03-paddle-wheel.mid"
    part = judged(file, "all: G#", remedies=True)
    assert part.advice is not None
    assert part.advice.freed
    (passage,) = part.advice.passages
    asked, free = passage.places
    (remedy,) = asked.remedies
    assert remedy.kind is RemedyKind.SPELLING
    assert remedy.others == len(free.troubles) == 6
    teller = Teller(part.advice.instrument, part.time_map)
    assert teller.what(remedy).endswith(
        "but 6 other attacks of the passage cannot be played in any spelling"
    )
    assert teller.head(part.advice).endswith("with livepedal choosing the spelling")
