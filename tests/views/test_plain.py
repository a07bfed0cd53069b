"""Line mode: everything about a finding in one line."""

from livepedal.model.findings import Passage, Verdict
from livepedal.views.lines import Tone, line
from livepedal.views.plain import finding_line, passage_line, wrapped
from livepedal.views.signs import ASCII, PLAIN
from livepedal.views.widths import folded

from .making import SECOND, STEADY, finding


def test_a_finding_is_one_line_with_time_place_notes_figures_and_reasons() -> None:
    said = finding_line(finding(), STEADY, PLAIN)
    assert "\n" not in said
    for part in ("3.00 s", "bar 2, beat 3", "virtuoso", "G♯4/A♭4", "0.50 s needed, 0.21 s available", "as A♭:"):
        assert part in said


def test_an_audible_change_is_called_so() -> None:
    assert ": audible: " in finding_line(finding(audible=True, verdict=Verdict.PLAYABLE), STEADY, PLAIN)


def test_middle_c_and_ascii() -> None:
    said = finding_line(finding(), STEADY, ASCII, "C3")
    assert said.isascii()
    assert "G#3/Ab3" in said


def test_a_passage_is_told_with_its_bars_and_verdict() -> None:
    said = passage_line(Passage(0, 5 * SECOND, 5 * SECOND, Verdict.PLAYABLE, True, 12), STEADY, PLAIN)
    assert "bars 1 to 3" in said
    assert "12 attacks" in said
    assert "playable, with audible pedal changes" in said


def test_a_passage_spans_the_bars_of_its_attacks() -> None:
    """However long the last of them is held."""
    held = Passage(0, 3 * SECOND, 11 * SECOND, Verdict.EASY, False, 4)
    assert ", bars 1 and 2, " in passage_line(held, STEADY, PLAIN)


def test_without_bars_the_time_stands_alone() -> None:
    passage = Passage(0, 5 * SECOND, 5 * SECOND, Verdict.EASY, False, 12)
    for said in (finding_line(finding(), None, PLAIN), passage_line(passage, None, PLAIN)):
        assert "bar" not in said
        assert said.split(": ")[0].endswith("s")


def test_lines_for_a_terminal_break_between_words() -> None:
    lines = [line("a word and another one " * 5), line(("short", Tone.STRONG)), ()]
    assert list(wrapped(lines, None)) == lines
    rows = list(wrapped(lines, 40))
    texts = [text for row in rows for text, _ in row]
    assert max(map(len, texts)) < 40
    assert " ".join(text.strip() for text in texts[:-1]) == ("a word and another one " * 5).strip()
    assert rows[-2:] == lines[-2:]


def test_a_word_that_is_longer_than_a_row_is_cut() -> None:
    """A path, say: it once was looked for a blank in for ever."""
    path = "/" + "long/" * 40
    rows = folded(f"Everything is recorded in {path}", 40, 0, 2)
    assert max(map(len, rows)) <= 40
    assert "".join(row.strip() for row in rows).endswith(path)
