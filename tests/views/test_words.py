"""Words that follow from counts, bars in a row, and columns that hold wide characters: no outside is needed for these."""

from __future__ import annotations

from pathlib import Path

import pytest

from livepedal import cli
from livepedal.advice.check import check_file
from livepedal.advice.comparing.compare import compare_parts
from livepedal.advice.judging.part import verdict_of
from livepedal.advice.judging.report import Count
from livepedal.advice.summary import FileSummary, Tally
from livepedal.model.findings import Layer, Outcome, PlayerCount, Verdict
from livepedal.model.hands import HandsFault, HandTrouble
from livepedal.model.why_hands import hands_clause
from livepedal.music.wording import listed, plain
from livepedal.views import words
from livepedal.views.lines import plain_text
from livepedal.views.report.look import Look
from livepedal.views.report.side_by_side import comparison_lines
from livepedal.views.report.table import Table
from livepedal.views.signs import signs_for
from livepedal.views.widths import cells, cut, padded
from tests.cli.terminals import Terminal
from tests.places import RECORDINGS

ALL = sorted(RECORDINGS.glob("*.mid"))


@pytest.mark.slow
@pytest.mark.parametrize("path", ALL, ids=lambda path: path.stem)
def test_verdict_outcome_counts_and_findings_say_the_same(path: Path) -> None:
    """Report, table and exit code are made of these four; so they must not contradict each other."""
    for player in ("relaxed", "working", "virtuoso"):
        file = check_file(path, player=player).files[0]
        for part in file.parts:
            cannot = [bool(count.unplayable or count.too_much) for count in part.counts]
            audible = [bool(count.audible) for count in part.counts]
            by_counts = (
                Verdict.UNPLAYABLE
                if cannot[2]
                else Verdict.VIRTUOSO
                if cannot[1]
                else Verdict.PLAYABLE
                if cannot[0] or any(audible[:2])
                else Verdict.EASY
            )
            assert part.verdict is by_counts
            mine = next(n for n, count in enumerate(part.counts) if count.player == player)
            assert (part.outcome is Outcome.CANNOT) == cannot[mine]
            assert any(not finding.audible for finding in part.findings) == cannot[mine]
            said = words.says(part)
            able = next((n for n in range(3) if not cannot[n]), None)
            if able is None:
                assert said.startswith("By these figures not even a virtuoso")
            else:
                assert part.counts[able].player in said
        assert file.exit_code == int(any(part.outcome is Outcome.CANNOT for part in file.parts))
        assert FileSummary.of(file).exit_code() == file.exit_code
        assert (Tally.of([file]).cannot > 0) == (file.exit_code == 1)


def test_the_verdict_of_a_part_follows_from_its_counts() -> None:
    def count(player: str, unplayable: int, audible: int, too_much: int = 0) -> Count:
        return Count(player, unplayable, audible, 0, {Layer.LOAD: PlayerCount(player, too_much, 0)})

    def verdict(*three: tuple[int, int, int]) -> Verdict:
        names = ("relaxed", "working", "virtuoso")
        return verdict_of([count(name, *one) for name, one in zip(names, three, strict=True)])

    none = (0, 0, 0)
    assert verdict(none, none, none) is Verdict.EASY
    assert verdict((0, 1, 0), none, none) is Verdict.PLAYABLE
    assert verdict((3, 0, 0), none, none) is Verdict.PLAYABLE
    assert verdict((3, 0, 0), (0, 0, 1), none) is Verdict.VIRTUOSO
    assert verdict((3, 0, 0), (1, 0, 0), (0, 2, 0)) is Verdict.VIRTUOSO
    assert verdict((3, 0, 0), (1, 0, 0), (1, 0, 0)) is Verdict.UNPLAYABLE


def test_remedies_name_the_findings_that_the_report_has_numbered(capsys: pytest.CaptureFixture[str]) -> None:
    """recordings/README.md, 3: six attacks fail, on four notes, and one slower tempo mends them all."""
    cli.main(["check", "--remedies", str(RECORDINGS / "03-paddle-wheel.mid")])
    out = capsys.readouterr().out
    assert "  4 ■ unplayable " in out
    assert "Findings 1 to 4 (6 attacks from bar 1, beat 1½ on): play bars 1 to 4 at ♩ = 56" in out
    assert "▸ working player   at ♩ = 56, or slower" in out


def test_one_audible_change_is_one_and_the_slowest_who_does_it_is_named(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """recordings/README.md, 12: one change under a held chord, which the relaxed player makes as well."""
    cli.main(["check", str(RECORDINGS / "12-moored.mid")])
    out = capsys.readouterr().out
    assert "A relaxed player can play it, with an audible pedal change." in out
    assert "The working player can play it, with an audible pedal change." in out
    assert "audible pedal changes" not in out
    assert "bar 2  before beat 3 G♯~" in out  # as late as the foot allows, for beat 3
    # recordings/README.md, 2: the working player has time for what is heard of the relaxed one.
    cli.main(["check", str(RECORDINGS / "02-upstream.mid")])
    without = "A relaxed player can play it, with an audible pedal change; a working player without."
    assert without in capsys.readouterr().out


def test_bars_in_a_row() -> None:
    assert words.bar_list([3], 12) == "bar 3"
    assert words.bar_list([1, 2], 12) == "bars 1 and 2"
    assert words.bar_list([1, 2, 3, 4, 5, 6], 12) == "bars 1 to 6"
    assert words.bar_list([1, 3, 4, 5, 9], 12) == "bars 1, 3 to 5 and 9"
    assert words.bar_list([1, 3, 5, 7, 8, 9], 2) == "bars 1, 3 and 4 more"
    assert words.bar_list([1, 2, 5, 7], 2) == "bars 1, 2 and 2 more"


def test_a_chord_without_names_is_no_empty_list() -> None:
    fault = HandsFault(HandTrouble.TOO_WIDE, left=True, pitches=(), needed=0, available=0, strings=0)
    assert hands_clause(fault) == "this chord is too wide for two hands, however it is shared"


def test_the_next_command_is_written_whole(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    sketch = tmp_path / "first sketch.mid"
    sketch.write_bytes((RECORDINGS / "03-paddle-wheel.mid").read_bytes())
    cli.main(["check", str(sketch)])
    assert f"What would make it playable: livepedal check --remedies '{sketch}'" in capsys.readouterr().out


def test_the_page_is_named_at_the_end(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    out = tmp_path / "page.html"
    cli.main(["check", str(ALL[0]), "--page", str(out)])
    assert capsys.readouterr().out.rstrip().endswith(f"Written as a page: {out}")
    cli.main(["check", str(ALL[0]), "--page", str(out), "--force", "--quiet"])
    assert capsys.readouterr().out == ""


def told(before: str, after: str) -> str:
    one, other = (check_file(RECORDINGS / name).files[0].parts for name in (before, after))
    compared = compare_parts(before, after, one, other)
    return "\n".join(plain_text(row) for row in comparison_lines(compared, Look(signs_for("utf-8"))))


@pytest.mark.slow
def test_two_pieces_are_asked_about_and_two_versions_are_not() -> None:
    assert "Are these two versions of one part?" in told("03-paddle-wheel.mid", "01-slack-water.mid")
    assert "It helped" not in told("03-paddle-wheel.mid", "01-slack-water.mid")
    assert "two versions" not in told("03-paddle-wheel.mid", "05-paddle-wheel-revised.mid")


def test_wide_characters_take_two_columns() -> None:
    # Unicode Standard Annex 11: ideographs and kana are wide, two columns of a terminal.
    assert cells("港の船") == 6
    assert cells(padded("港の船", 9)) == 9
    assert cut("港の船の歌", 7, "…") == "港の船…"
    look = Look(signs_for("utf-8"), "C4", 80)
    names = ["港の船の長い長い長い名前の歌.mid", "ferry.mid"]
    table = Table.laid_out(names, look)
    first, second = (
        plain_text(next(iter(table.rows(FileSummary(name, outcomes=((Verdict.EASY, Outcome.PLAYS),))))))
        for name in names
    )
    assert cells(first.split("●")[0]) == cells(second.split("●")[0])


@pytest.mark.slow
@pytest.mark.parametrize("columns", [60, 80])
def test_no_row_of_the_table_is_wider_than_the_terminal(columns: int) -> None:
    look = Look(signs_for("utf-8"), "C4", columns)
    files = [FileSummary.of(check_file(path, only=["pedals"], remedies=True).files[0]) for path in ALL]
    table = Table.laid_out([str(path) for path in ALL], look, tempo=True)
    for row in [*table.head(), *(row for file in files for row in table.rows(file))]:
        assert cells(plain_text(row)) <= columns


def test_the_table_says_what_fastest_means(tmp_path: Path) -> None:
    with Terminal(
        "check", "--remedies", "--only", "pedals", *map(str, ALL[2:4]), columns=80, rows=40
    ) as terminal:
        terminal.end()
        shown = terminal.shown()
    assert "♩ = 56 (56%)" in shown
    assert "playable at: in crotchets a minute" in shown


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("A♮4 repeats too fast", "A4 repeats too fast"),
        ("G♮4 comes too soon for the pedal G♯→G♮", "G♮4 comes too soon for the pedal G♯→G♮"),
        ("E♮ can be set, but not with G♯4/A♭4 and A♮4", "E can be set, but not with G♯4/A♭4 and A♮4"),
        ("a glissando: set D♮ C♮ B♭ | E♮ F♮ G♮ A♮ for A♮4", "a glissando: set D♮ C♮ B♭ | E♮ F♮ G♮ A♮ for A4"),
        ("set D♮ · B♭ | · F♮ G♮ ·", "set D♮ · B♭ | · F♮ G♮ ·"),
        ("no sign at all", "no sign at all"),
    ],
)
def test_naturals_in_running_text(text: str, said: str) -> None:
    """Only where another sign of that letter is near (the trade's habit; common practice, no source)."""
    assert plain(text) == said


def test_things_in_a_row() -> None:
    assert [listed(["F", "A", "C"][:n]) for n in range(4)] == ["", "F", "F and A", "F, A and C"]
