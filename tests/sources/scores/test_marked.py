"""Scores with marks: every byte outside what is added stays; the marks are where they are meant; others read it.

Others: the MusicXML 4.0 schema (W3C, as the package `musicxml` carries it), music21 and verovio.
"""

from __future__ import annotations

import importlib.util
import io
import re
import zipfile
from pathlib import Path

import pytest

from livepedal.advice.check import check_file
from livepedal.cli import main
from livepedal.music.parts import choose_parts
from livepedal.music.song import read_song
from livepedal.sources.scores.marking import ScorePut, marked_score
from livepedal.sources.scores.measures import TICKS
from livepedal.views.score_marks import PedalsAs, finding_puts, in_brief, pedal_puts
from tests.sources.scores.making import attributes, backup, note, notes, packed, score, whole, words

XLINK = (
    '<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" targetNamespace="http://www.w3.org/1999/xlink">'
    + "".join(
        f'<xs:attribute name="{name}"/>' for name in ("href", "type", "role", "title", "show", "actuate")
    )
    + "</xs:schema>"
)
# A ferry crosses: F♯ in bar 2, back in bar 3, a rehearsal mark, and D♯ beside D♮ too quickly in bar 4.
REHEARSAL = "<direction><direction-type><rehearsal>A</rehearsal></direction-type></direction>"
FERRY = score(
    attributes(
        fifths=0,
        staves=2,
        more='<clef number="1"><sign>G</sign></clef><clef number="2"><sign>F</sign></clef>',
    )
    + notes("C4 F4 G4 A4")
    + backup(4)
    + note("C3", 4, voice=5, staff=2),
    notes("C4 D4 E4 F#4") + backup(4) + note("G2", 4, voice=5, staff=2),
    REHEARSAL + note("B3", grace=True) + notes("C4 F4 E4 F4") + backup(4) + note("C3", 4, voice=5, staff=2),
    notes("D4 D#4 D4 D#4 D4 D#4 D4 D#4", 0.125) + note("C4", 3),
)


def both(data: bytes, how: PedalsAs = PedalsAs.WORDS, archive: bool = False) -> bytes:
    """The score with pedal changes and findings."""
    (file,) = check_file(data, name="ferry.musicxml", only=("pedals",)).files
    puts, coloured = finding_puts(file, lambda group: in_brief(group, "C4"))
    return marked_score(data, "ferry.musicxml", [*pedal_puts(file, how), *puts], coloured, archive)


def without(data: bytes) -> bytes:
    return marked_score(data, "ferry.musicxml", [], [], archive=False)


def said(data: bytes) -> list[tuple[float, str]]:
    """(quarters, words or setting) of what stands in the score."""
    (part,) = choose_parts(read_song(data, name="ferry.musicxml"))
    assert part.written is not None
    return [
        (
            one.tick / TICKS,
            one.text or " ".join(f"{letter}{'♭♮♯'[altered + 1]}" for letter, altered in one.pedals),
        )
        for one in part.written.words
    ]


@pytest.mark.parametrize("how", PedalsAs)
def test_nothing_but_marks_is_added_and_all_of_it_comes_out_again(how: PedalsAs) -> None:
    marked = both(FERRY, how)
    assert marked != FERRY
    added = re.sub(rb'<direction id="livepedal-\d+".*?</direction>', b"", marked)
    assert added.replace(b' color="#B3261D"', b"") == FERRY
    assert without(marked) == FERRY
    assert both(marked, how) == marked


def test_the_setting_stands_at_the_start_and_at_rehearsal_marks_and_changes_where_the_foot_moves() -> None:
    (file,) = check_file(FERRY, name="ferry.musicxml", only=("pedals",)).files
    plan, time_map = file.parts[0].plan, file.parts[0].time_map
    marks = said(both(FERRY))
    settings = [(at, text) for at, text in marks if len(text) > 12 and ":" not in text]
    assert [at for at, _ in settings] == [0, 8]
    moves = [
        (time_map.tick(change.us) / TICKS, f"{change.pedal.letter}{change.goal.sign}")
        for change in plan.changes
    ]
    single = [(at, text) for at, text in marks if len(text) == 2]
    assert [text for _, text in single] == [text for _, text in moves]
    assert [at for at, _ in single] == pytest.approx([at for at, _ in moves], abs=0.001)


def test_of_two_parts_that_are_two_staves_the_lower_one_has_the_pedals() -> None:
    parts = "".join(
        f'<part id="P{n}"><measure number="1">{attributes()}{notes(music)}</measure></part>'
        for n, music in ((1, "C5 F5 G5 F#5"), (2, "C3 D3 E3 D3"))
    )
    listed = "".join(
        f'<score-part id="P{n}"><part-name>Harp {hand}</part-name></score-part>'
        for n, hand in ((1, "RH"), (2, "LH"))
    )
    upper, lower = both(whole(parts, listed)).split(b'<part id="P2">')
    assert b"<words>" not in upper
    assert b"harp-pedals" in lower
    assert "<words>F♯</words>".encode("ascii", "xmlcharrefreplace") in lower


def test_findings_are_words_above_the_staff_and_coloured_notes() -> None:
    marked = both(FERRY).decode()
    texts = re.findall(
        r'<direction id="livepedal-\d+" placement="above"><direction-type><words>(.*?)</words>', marked
    )
    assert texts
    assert all(text.startswith(("unplayable: D", "virtuoso: D", "audible: D")) for text in texts)
    coloured = re.findall(r'<note color="#B3261D"><pitch><step>(\w)</step>', marked)
    assert coloured
    assert set(coloured) == {"D"}


def test_a_change_in_a_second_pass_says_so_and_one_in_both_stands_once() -> None:
    back = '<barline location="right"><repeat direction="backward"/></barline>'
    data = score(notes("C4 D4 E4 F4"), notes("G4 A4 B4 C5") + back)
    puts = [ScorePut(1, beat * TICKS, "F♯") for beat in (2, 10)] + [ScorePut(1, 13 * TICKS, "B♭")]
    marked = marked_score(data, "ferry.musicxml", puts, [], archive=False)
    assert said(marked) == [(2, "F♯"), (5, "B♭ (2nd time)"), (10, "F♯"), (13, "B♭ (2nd time)")]


def test_between_two_notes_a_mark_has_an_offset() -> None:
    marked = marked_score(FERRY, "ferry.musicxml", [ScorePut(1, TICKS * 5 // 4, "F♯")], [], archive=False)
    assert b"<offset>3</offset><staff>2</staff></direction><note>" in marked
    assert (1.25, "F♯") in said(marked)


def test_other_encodings_and_shapes_stay_as_they_are() -> None:
    wide = FERRY.decode().replace("UTF-8", "UTF-16").encode("utf-16")
    marked = both(wide)
    assert without(marked) == wide
    assert said(marked) == said(both(FERRY))
    latin = FERRY.decode().replace("UTF-8", "ISO-8859-1").replace("Harp", "Harp né").encode("latin-1")
    assert without(both(latin)) == latin
    body = FERRY.decode().partition("</part-list>")[2]
    inner = re.findall(r"<measure (number=\"\d+\")>(.*?)</measure>", body, re.DOTALL)
    timewise = (
        '<score-timewise><part-list><score-part id="P1"><part-name>Harp</part-name></score-part></part-list>'
        + "".join(f'<measure {number}><part id="P1">{content}</part></measure>' for number, content in inner)
        + "</score-timewise>"
    ).encode()
    assert said(both(timewise)) == said(both(FERRY))


def test_an_archive_keeps_whatever_else_is_in_it() -> None:
    data = io.BytesIO(packed(FERRY, "score/ferry.xml"))
    with zipfile.ZipFile(data, "a") as archive:
        archive.writestr("pictures/ferry.png", b"a ferry")
    marked = both(data.getvalue(), archive=True)
    with zipfile.ZipFile(io.BytesIO(marked)) as archive:
        assert archive.namelist() == ["META-INF/container.xml", "score/ferry.xml", "pictures/ferry.png"]
        assert archive.read("pictures/ferry.png") == b"a ferry"
        assert archive.read("score/ferry.xml") == both(FERRY)
    assert said(both(FERRY, archive=True)) == said(marked)


# -- others


@pytest.mark.parametrize("how", PedalsAs)
def test_a_marked_score_is_valid_by_the_schema(how: PedalsAs) -> None:
    xmlschema = pytest.importorskip("xmlschema")
    package = importlib.util.find_spec("musicxml")
    if package is None or package.origin is None:
        pytest.skip("no musicxml")
    path = Path(package.origin).parent / "generate_classes" / "musicxml_4_0.xsd"
    schema = xmlschema.XMLSchema(str(path), locations={"http://www.w3.org/1999/xlink": XLINK}, allow="local")
    assert [error.reason for error in schema.iter_errors(FERRY.decode().partition("?>")[2])] == []
    assert [error.reason for error in schema.iter_errors(both(FERRY, how).decode().partition("?>")[2])] == []


def test_music21_finds_the_same_notes_in_it() -> None:
    music21 = pytest.importorskip("music21")

    def found(data: bytes) -> list[tuple[float, tuple[str, ...], float]]:
        parsed = music21.converter.parseData(data.decode(), format="musicxml")
        return [
            (
                float(one.offset),
                tuple(pitch.nameWithOctave for pitch in one.pitches),
                float(one.quarterLength),
            )
            for one in parsed.flatten().notes
        ]

    assert found(both(FERRY)) == found(FERRY)
    texts = music21.converter.parseData(both(FERRY).decode(), format="musicxml").flatten()
    assert "F♯" in [one.content for one in texts.getElementsByClass(music21.expressions.TextExpression)]


def test_verovio_finds_the_same_notes_in_it() -> None:
    verovio = pytest.importorskip("verovio")

    def found(data: bytes) -> list[tuple[float, int, int]]:
        toolkit = verovio.toolkit()
        assert toolkit.loadData(data.decode())
        return [
            (one["qstamp"], len(one.get("on", ())), len(one.get("off", ())))
            for one in toolkit.renderToTimemap({"includeMeasures": False})
        ]

    assert found(both(FERRY)) == found(FERRY)


# -- the command


def test_the_command_writes_a_score(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    source, out = tmp_path / "ferry.musicxml", tmp_path / "marked.musicxml"
    source.write_bytes(FERRY)
    main(["check", "--plain", "--only", "pedals", "--marked", str(out), "--findings", str(source)])
    assert f"Written with marks: {out}" in capsys.readouterr().out
    assert out.read_bytes() == both(FERRY)
    main(
        [
            "check",
            "--plain",
            "--only",
            "pedals",
            "--marked",
            str(tmp_path / "d.mxl"),
            "--pedals",
            "diagrams",
            str(source),
        ]
    )
    assert zipfile.is_zipfile(tmp_path / "d.mxl")


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--marked", "out.mid", "ferry.musicxml"], "call it OUT.musicxml"),
        (["--marked", "out.musicxml", "--changes-as", "lyrics", "ferry.musicxml"], "a score has --pedals"),
        (
            ["--marked", "out.musicxml", "--pedals", "poems", "ferry.musicxml"],
            "--pedals does not know 'poems'; it takes words, diagrams",
        ),
        (["--marked", "out.musicxml", "paddle-wheel"], "call it OUT.mid"),
        (["--marked", "out.mid", "--findings", "paddle-wheel"], "are for scores"),
        (["--findings", "ferry.musicxml"], "are for --marked"),
    ],
)
def test_what_does_not_go_together_gets_one_sentence(
    arguments: list[str],
    says: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("ferry.musicxml").write_bytes(FERRY)
    assert main(["check", *arguments]) == 2
    error = capsys.readouterr().err
    assert says in error
    assert "Traceback" not in error
    assert sorted(path.name for path in tmp_path.iterdir()) == ["ferry.musicxml"]


def test_words_of_the_score_itself_stay() -> None:
    data = score(words("dolce") + notes("C4 D4 E4 F#4"))
    assert (0, "dolce") in said(both(data))
