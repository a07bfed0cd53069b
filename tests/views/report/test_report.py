"""What the text report says: read by a composer who has the score and has never met the program."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction

import pytest

from livepedal.advice.judging.report import Count
from livepedal.advice.report import FileReport
from livepedal.advice.summary import Tally
from livepedal.harp import HarpString, Pedal, Position
from livepedal.model.faults import HAND_KINDS
from livepedal.model.findings import (
    Constraint,
    Kind,
    Layer,
    Outcome,
    PlayerCount,
    Reason,
    Verdict,
    worst_first,
)
from livepedal.model.hands import HandsFault, StringFault
from livepedal.model.load import Load
from livepedal.model.plan.prices import Over
from livepedal.music.timemap import Place
from livepedal.music.tracks import TrackInfo
from livepedal.views import words
from livepedal.views.lines import Line, Tone, plain_text, segments
from livepedal.views.report.text import Look, closing, file_lines, opening
from livepedal.views.signs import ASCII, FULL, PLAIN, signs_for
from tests.views.making import SECOND, finding, part, report, spelling


def report_lines(made, look):
    """The whole report, as the command line writes it piece by piece."""
    yield from opening(made.player, made.instrument, look)
    for file in made.files:
        yield from file_lines(file, look)
    yield from closing(Tally.of(made.files), made.player, look)


def text(made=None, **look) -> str:
    wanted = Look(**{"signs": FULL, **look})
    return "\n".join(plain_text(one) for one in report_lines(made or report(), wanted))


def lines_with(found: str, whole: str) -> list[str]:
    return [one for one in whole.splitlines() if found in one]


def test_the_verdict_is_a_word_and_a_shape() -> None:
    shapes = set()
    for verdict in Verdict:
        made = report(FileReport("ferry.mid", (part(verdict=verdict),)))
        (heading,) = lines_with(verdict.word.upper(), text(made))
        shapes.add(heading.split()[0])
    assert len(shapes) == len(Verdict)


def test_the_setting_is_drawn_and_spelled_out() -> None:
    said = text()
    assert "D♭ C♮ B♭ | E♭ F♮ G♮ ·" in said
    assert "· is not used" in said
    assert len(lines_with("╂", said)) == 1


def test_changes_stand_by_bar_and_beat_with_their_new_accidental() -> None:
    said = text()
    (first,) = lines_with("G♯", said.split("What")[0])
    assert re.search(r"bar 1 .*beat 3 G♯", first)  # 1 s at 120 quarters a minute
    (second,) = lines_with("beat 1 B♮", said)
    assert "bar 2" in second
    assert "B♮!" in second
    assert "E♮~" in said  # ♮ is always printed
    assert lines_with("~ audible", said)
    assert lines_with("! tight", said)


def test_without_changes_it_says_so() -> None:
    still = replace(part().plan, changes=())
    assert "No pedal changes" in text(report(FileReport("ferry.mid", (part(plan=still),))))


def test_a_finding_says_where_what_how_much_and_why() -> None:
    said = text()
    (where,) = lines_with("comes too soon", said)
    assert "bar 2, beat 3" in where
    assert "3.00 s" in where
    assert "G♯4/A♭4" in where
    assert "G♮→G♯" in where
    assert "0.50 s needed, 0.21 s available" in where
    why = said.splitlines()[said.splitlines().index(where) + 1]
    assert "as G♯: the G string is wanted" in why
    assert "as A♭: A is in use" in why


def test_the_same_reason_is_said_once_in_a_row() -> None:
    made = part(findings=(finding(1), finding(2, us=5 * SECOND, note=56)))
    said = text(report(FileReport("ferry.mid", (made,))))
    assert len(lines_with("comes too soon", said)) == 2
    assert len(lines_with("the G string is wanted", said)) == 1


def repeats(number: int, us: int):
    """A2 again after 150 ms, where the player needs 1 s / 6."""
    fault = StringFault(45, HarpString.parse("A2"), SECOND // 6, 150_000, 1, ())
    return finding(
        number,
        us,
        kind=Kind.STRING_AGAIN,
        layer=Layer.HANDS,
        note=45,
        string=fault,
        needed=fault.needed,
        available=fault.available,
        reasons=(),
        pedal=None,
    )


def test_what_is_the_same_all_through_a_passage_is_one_line_with_its_rate() -> None:
    made = part(findings=tuple(repeats(number, number * 150_000) for number in range(1, 27)))
    (line,) = lines_with("A2", text(report(FileReport("ferry.mid", (made,)))))
    assert "bars 1 and 2, 26 attacks" in line  # a bar lasts 2 s
    assert "6.7 a second; the working player's limit is 6.0" in line


def test_a_report_tells_fifteen_and_of_the_others_where_they_are() -> None:
    found = tuple(finding(number, us=number * SECOND, note=number + 30) for number in range(1, 41))
    passages = (replace(part().passages[0], end=50 * SECOND),)
    file = FileReport("ferry.mid", (part(findings=found, passages=passages),))
    assert len(lines_with("comes too soon", text(report(file)))) == 15
    (left,) = lines_with("25 more", text(report(file)))
    assert "pedal-time" in left
    assert "bars 9 to 21" in left  # the 16th comes at 16 s, the 40th at 40 s
    assert len(lines_with("comes too soon", text(report(file), every=True))) == 40


def test_findings_stand_worst_first() -> None:
    audible = finding(1, us=1, audible=True, verdict=Verdict.PLAYABLE)
    late = finding(2, us=9, verdict=Verdict.UNPLAYABLE)
    early = finding(3, us=5, verdict=Verdict.VIRTUOSO)
    assert [f.id for f in sorted([audible, early, late], key=worst_first)] == [2, 3, 1]


@pytest.mark.parametrize("kind", [Kind.PEDAL_TIME, Kind.AUDIBLE, Kind.ONE_LETTER, Kind.RANGE])
def test_every_kind_of_finding_about_one_note_has_words_of_its_own(kind: Kind) -> None:
    said = words.what(finding(kind=kind), "C4")
    assert "G♯4/A♭4" in said
    assert len(said) > len("G♯4/A♭4: ") + 8


def test_every_other_kind_of_finding_has_words_of_its_own() -> None:
    made = [
        *(
            finding(
                kind=kind,
                layer=Layer.HANDS,
                hands=HandsFault(trouble, True, (36, 60, 64), 500_000, 200_000, 7),
            )
            for trouble, kind in HAND_KINDS.items()
        ),
        finding(
            kind=Kind.STRING_AGAIN,
            layer=Layer.HANDS,
            string=StringFault(67, HarpString.parse("G4"), 320_000, 190_000, 4, ()),
        ),
        finding(
            kind=Kind.TOO_MUCH,
            layer=Layer.LOAD,
            load=Load(0, 6_000_000, 21, 12, 6_000_000),
        ),
    ]
    assert {one.kind for one in made} | {
        Kind.PEDAL_TIME,
        Kind.AUDIBLE,
        Kind.ONE_LETTER,
        Kind.NO_PEDAL,
        Kind.RANGE,
    } == set(Kind)
    said = [words.what(one, "C4") for one in made]
    assert len(set(said)) == len(made)
    assert all(len(text) > 40 for text in said)


def test_a_note_with_a_natural_spelling_is_named_by_it() -> None:
    both = (spelling("E", Position.SHARP, 4), spelling("F", Position.NATURAL, 4))
    assert words.note_name(65, both, "C4") == "F♮4"


def test_the_spelling_at_stake_is_named_where_the_note_is_called_otherwise() -> None:
    made = finding(
        note=65,
        pedal=Pedal.E,
        start=Position.NATURAL,
        goal=Position.SHARP,
        reasons=tuple(
            Reason(spelling(letter, position, 4), Constraint.FOOT_BUSY, "the foot has no time")
            for letter, position in (("E", Position.SHARP), ("F", Position.NATURAL))
        ),
    )
    assert words.what(made, "C4") == "F4 (as E♯) comes too soon for the pedal E♮→E♯"


def test_figures_never_look_as_if_there_were_enough() -> None:
    assert words.figures(finding(needed=500_000, available=496_000)) == "0.500 s needed, 0.496 s available"
    assert words.figures(finding(needed=None)) == ""


def test_where_no_other_string_gives_the_note_it_says_so() -> None:
    only = Reason(spelling("G", Position.NATURAL, 4), Constraint.WANTED, "the G string is wanted")
    assert words.reasons(finding(note=67, reasons=(only,)))[0].endswith("no other string gives G")


def test_octaves_are_explained_once_and_follow_middle_c() -> None:
    said = text(middle_c="C3")
    assert said.count("Middle C is C3") == 1
    assert "G♯3/A♭3" in said


def test_all_players_are_compared_and_the_chosen_one_is_marked() -> None:
    said = text()
    (chosen,) = lines_with("▸", said)
    assert "working" in chosen
    assert re.search(r"relaxed player +2 +1 +3", said)


def test_too_much_at_once_is_counted_in_passages_beside_the_attacks() -> None:
    heavy = {Layer.LOAD: PlayerCount("relaxed", 1, 0)}
    counts = (Count("relaxed", 0, 1, 3, heavy), Count("working", 0, 1, 3, {}), Count("virtuoso", 0, 0, 0, {}))
    said = text(report(FileReport("ferry.mid", (part(counts=counts),))))
    assert re.search(r"relaxed player +- +1 +3 +1 passage", said)
    assert re.search(r"working player( +[-0-9]+){3} +-\n", said)


def test_the_summary_counts_verdicts_and_what_the_player_can_play() -> None:
    fine = part(verdict=Verdict.EASY, outcome=Outcome.PLAYS, findings=())
    files = (
        FileReport("a.mid", (fine, part())),
        FileReport("b.mid", (fine,)),
        FileReport("c.mid", error="bad"),
    )
    *_, last, hint = text(report(*files)).splitlines()
    assert "--remedies" in hint  # the next thing to do, where something cannot be played
    assert "--remedies" not in text(report(FileReport("b.mid", (fine,))))
    assert "3 parts in 2 files" in last
    assert "2 easy, 1 virtuoso" in last
    assert "can play 2 of them" in last
    assert "1 file could not be judged" in last


def test_remarks_are_told() -> None:
    made = FileReport(
        "ferry.mid", (part(remarks=("2 notes are never released",)),), remarks=("drums left out",)
    )
    said = text(report(made))
    assert "Remark: 2 notes are never released." in said
    assert "Remark: drums left out." in said


EVIL = "\x1b[2J\x9b31m[bold red]harp[/]\r\n\u202e\x07"


def test_a_bounded_search_for_the_changes_is_told_with_them() -> None:
    """As on the spelling sheet; no fewer than none can be there."""
    made = part()
    bounded = replace(made, plan=replace(made.plan, bounded=3))
    says = "Remark: A better way may exist: not every pedalling was tried."
    assert says in text(report(FileReport("a.mid", (bounded,))))
    assert "Fewer pedal changes" not in text(report(FileReport("a.mid", (made,))))
    far = replace(bounded, plan=replace(bounded.plan, over=Over("tight change", 2)))
    assert says[:-1] + " (it could save at most 2 tight changes)." in text(
        report(FileReport("a.mid", (far,)))
    ).replace("\n", " ")
    none = replace(bounded, plan=replace(bounded.plan, changes=()))
    assert "Fewer pedal changes" not in text(report(FileReport("a.mid", (none,))))
    worse = replace(
        bounded,
        not_the_best="The pedal changes are not the best",
        remarks=("The pedal changes are not the best",),
    )
    told = text(report(FileReport("a.mid", (worse,))))
    assert told.count("not the best") == 1
    assert "Fewer pedal changes" not in told


def test_names_cannot_act_on_the_terminal_or_as_markup() -> None:
    made = part(name=EVIL, tracks=(TrackInfo(1, EVIL, 46, 1),), remarks=(EVIL,))
    lines = list(report_lines(report(FileReport(EVIL, (made,))), Look(FULL)))
    for said in ["\n".join(plain_text(one) for one in lines), written(lines)]:
        assert not set(said) & set("\x1b\x9b\r\u202e\x07")
        assert "[bold red]harp[/]" in said


def written(lines: list[Line]) -> str:
    """As a rich console writes them."""
    return "\n".join("".join(piece.text for piece in segments(line)) for line in lines)


def test_ascii_terminals_get_ascii_and_lose_no_accidental() -> None:
    said = text(signs=ASCII)
    assert said.isascii()
    assert "Db Cn Bb | Eb Fn Gn -" in said
    assert "beat 1 Bn!" in said


def test_plain_has_no_box_characters_and_keeps_accidentals() -> None:
    said = text(signs=PLAIN)
    assert not any("\u2500" <= character <= "\u25ff" for character in said)
    assert "D♭ C♮ B♭" in said


@pytest.mark.parametrize(
    ("encoding", "signs"), [("utf-8", FULL), ("ascii", ASCII), ("latin-1", ASCII), (None, ASCII)]
)
def test_signs_are_chosen_by_what_the_output_can_show(encoding: str | None, signs: object) -> None:
    assert signs_for(encoding) is signs


@pytest.mark.parametrize("width", [70, 80, 100])
def test_lines_fit_the_terminal(width: int) -> None:
    path = "/".join(["the ferry's exports"] * 6)
    findings = (finding(), finding(audible=True, kind=Kind.AUDIBLE))
    for made in (report(), report(FileReport(path, (part(findings=findings, name="Harp I, the near bank"),)))):
        assert max(map(len, text(made, width=width).splitlines())) <= width


@pytest.mark.parametrize(
    ("beat", "said"),
    [
        ("1", "1"),
        ("5/2", "2½"),
        ("7/3", "2⅓"),
        ("9/4", "2¼"),
        ("17/8", "2⅛"),
        ("53/25", "2"),
        ("5999/1000", "5¾"),
    ],
)
def test_beats(beat: str, said: str) -> None:
    assert words.beat(Fraction(beat)) == said


def test_places_name_the_rehearsal_mark() -> None:
    assert words.where(Place(7, Fraction(3, 2), "B")) == "bar 7, beat 1½ (at mark B)"
    assert words.where(Place(10, Fraction(1), "B", 3)) == "bar 10, beat 1 (3 bars after mark B)"
    assert words.where(Place(2, Fraction(1), "B", -5)) == "bar 2, beat 1"
    assert "\x1b" not in words.where(Place(7, Fraction(1), "\x1b[2J"))


@pytest.mark.parametrize(
    ("us", "said"), [(0, "0.00 s"), (7_349_999, "7.35 s"), (59_999_000, "1:00.00"), (67_350_000, "1:07.35")]
)
def test_moments(us: int, said: str) -> None:
    assert words.moment(us) == said


def test_only_colour_is_lost_where_tones_are() -> None:
    lines = list(report_lines(report(), Look(FULL)))
    tones = {tone for one in lines for _, tone in one}
    assert Tone.VIRTUOSO_BADGE in tones
    assert written(lines).split() == "\n".join(plain_text(one) for one in lines).split()


def test_a_change_that_no_time_was_found_for_is_marked() -> None:
    made = part()
    changes = tuple(replace(change, possible=False) for change in made.plan.changes)
    said = text(report(FileReport("a.mid", (replace(made, plan=replace(made.plan, changes=changes)),))))
    assert "* there is no time for it" in said
    assert "* there is no time for it" not in text(report(FileReport("a.mid", (made,))))


def test_it_says_where_findings_and_changes_are_not_the_same_pedals() -> None:
    """A verdict knows what came before, the plan all of it."""
    one = part()
    change = one.plan.changes[0]
    same = finding(us=change.attack_us, pedal=change.pedal, goal=change.goal)
    for found, told in ((same, False), (replace(same, goal=Position.FLAT), True)):
        said = text(report(FileReport("ferry.mid", (replace(one, findings=(found,)),))))
        assert ("may use other pedals for the same notes" in " ".join(said.split())) is told


def test_what_sounds_audibly_is_not_signed_as_what_nobody_can_play() -> None:
    """A quicker player may be stuck where the chosen one is not, as its pedals stand otherwise."""
    one = replace(finding(), audible=True, kind=Kind.AUDIBLE, verdict=Verdict.UNPLAYABLE)
    said = text(report(FileReport("ferry.mid", (part(findings=(one,)),))))
    (line,) = lines_with("an audible slide", said)
    assert line.split()[:3] == ["1", "~", "audible"]


def test_it_says_who_tells_what_stops_a_quicker_player() -> None:
    """The findings are the chosen player's, the verdict is of all three."""
    counts = (Count("relaxed", 2, 1, 3, {}), Count("working", 1, 1, 3, {}), Count("virtuoso", 1, 0, 0, {}))
    made = part(verdict=Verdict.UNPLAYABLE, counts=counts)
    hint = "To see what stops the virtuoso player, add --player virtuoso."
    assert hint in text(report(FileReport("ferry.mid", (made,))))
    worse = replace(made, findings=(finding(verdict=Verdict.UNPLAYABLE),))
    assert hint not in text(report(FileReport("ferry.mid", (worse,))))
    assert hint not in text()


def test_the_report_says_how_its_findings_are_explained() -> None:
    assert "To see what this kind of finding means: livepedal explain pedal-time" in " ".join(text().split())
    made = part(findings=(finding(), finding(us=3 * SECOND, kind=Kind.RANGE)))
    told = " ".join(text(report(FileReport("x.mid", (made,)))).split())
    assert "a kind of finding means: livepedal explain KIND (pedal-time, range)" in told
