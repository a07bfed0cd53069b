"""Two versions side by side, on the recordings whose verdicts recordings/README.md has by hand."""

from __future__ import annotations

import io
import json
import random
import re
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from itertools import combinations
from pathlib import Path

import mido
import pytest

from livepedal import check_file
from livepedal.advice.comparing.bars import BarOutlook, BarPair, bars_of, line_up
from livepedal.advice.comparing.compare import Comparison, PartComparison, Total
from livepedal.model.findings import Verdict
from livepedal.views.lines import plain_text
from livepedal.views.report.look import Look
from livepedal.views.report.side_by_side import comparison_lines
from livepedal.views.signs import signs_for
from tests.places import RECORDINGS

FAST = str(RECORDINGS / "03-paddle-wheel.mid")
HALF = str(RECORDINGS / "04-paddle-wheel-half.mid")
REVISED = str(RECORDINGS / "05-paddle-wheel-revised.mid")


def run(*arguments: str, layer: str = "pedals") -> subprocess.CompletedProcess[str]:
    return livepedal("compare", "--only", layer, *arguments)


def livepedal(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "livepedal", *arguments],
        capture_output=True,
        encoding="utf-8",
        env=None,
        timeout=120,
    )


@pytest.mark.slow
@pytest.mark.parametrize(
    ("before", "after", "code"),
    [
        (FAST, REVISED, 0),
        (FAST, HALF, 0),
        (FAST, FAST, 0),
        (REVISED, FAST, 1),
        (HALF, FAST, 1),
        (FAST, "missing.mid", 2),
    ],
)
def test_exit_code_says_whether_something_got_worse(before: str, after: str, code: int) -> None:
    done = run(before, after)
    assert done.returncode == code, done.stderr
    assert bool(re.search("got (better or )?worse", done.stdout)) == (code != 2)
    assert "Traceback" not in done.stderr


def test_the_revision_by_bars() -> None:
    """03 to 05: three bars unplayable, then none; G♯ is left three times; as many notes as before (README
    there).
    """
    data = json.loads(run("--json", FAST, REVISED).stdout)
    assert (data["format"], data["version"], data["worse"]) == ("livepedal-compare", 1, False)
    (part,) = data["parts"]
    assert part["before"]["verdict"] == "unplayable"
    assert part["after"]["verdict"] == "playable"
    assert part["before"]["notes"] == part["after"]["notes"]
    verdicts = [(bar["before"]["verdict"], bar["after"]["verdict"]) for bar in part["bars"]]
    assert [before for before, _ in verdicts][:3] == ["unplayable"] * 3
    assert "unplayable" not in [after for _, after in verdicts]
    dropped = [note["note"] % 12 for bar in part["bars"] for note in bar["dropped"]]
    added = [note["note"] % 12 for bar in part["bars"] for note in bar["added"]]
    assert len(dropped) == len(added)
    assert dropped.count(8) - added.count(8) == 4  # seven G♯ in 03 (04's ten changes), three of them left


def test_the_same_at_half_the_tempo_lines_up_and_drops_nothing() -> None:
    data = json.loads(run("--json", FAST, HALF).stdout)
    (part,) = data["parts"]
    assert all(not bar["dropped"] and not bar["added"] for bar in part["bars"])
    assert [bar["before"]["bar"] for bar in part["bars"]] == [bar["after"]["bar"] for bar in part["bars"]]


def bar(number: int, *pitches: int, verdict: Verdict = Verdict.EASY) -> BarOutlook:
    notes = tuple((Fraction(n + 1), pitch) for n, pitch in enumerate(pitches))
    return BarOutlook(number, verdict, 0, int(verdict is Verdict.UNPLAYABLE), 0, notes)


def test_a_bar_put_in_shifts_the_rest() -> None:
    before = [bar(1, 60, 62), bar(2, 64, 65), bar(3, 67, 69)]
    after = [bar(1, 60, 62), bar(2, 70, 71), bar(3, 64, 65), bar(4, 67, 69)]
    pairs = line_up(before, after)
    assert [(p.before and p.before.bar, p.after and p.after.bar) for p in pairs] == [
        (1, 1),
        (None, 2),
        (2, 3),
        (3, 4),
    ]
    assert [p.same for p in pairs] == [True, False, True, True]


def test_a_bar_put_in_where_every_other_bar_was_revised_shifts_the_rest() -> None:
    before = [bar(1, 60, 62, 64), bar(2, 65, 67, 69), bar(3, 71, 72, 74)]
    after = [bar(1, 60, 62, 63), bar(2, 50), bar(3, 65, 67, 68), bar(4, 71, 72, 73)]
    for old, new, expected in (
        (before, after, [(1, 1), (None, 2), (2, 3), (3, 4)]),
        (after, before, [(1, 1), (2, None), (3, 2), (4, 3)]),
        # As many bars, since one was put in and another taken out.
        (before, after[:3], [(1, 1), (None, 2), (2, 3), (3, None)]),
    ):
        pairs = line_up(old, new)
        assert [(p.before and p.before.bar, p.after and p.after.bar) for p in pairs] == expected


def test_parts_of_one_name_are_compared_whatever_their_order(tmp_path: Path) -> None:
    banks = mido.MidiFile(RECORDINGS / "08-two-banks.mid")
    head, first, second = banks.tracks
    for name, tracks, names, alone in (
        ("turned.mid", [head, second, first], ["Harp I (near bank)", "Harp II (far bank)"], []),
        ("second.mid", [head, second], ["Harp II (far bank)"], ["Harp I (near bank)"]),
    ):
        mido.MidiFile(ticks_per_beat=banks.ticks_per_beat, tracks=tracks).save(tmp_path / name)
        data = json.loads(run("--json", str(RECORDINGS / "08-two-banks.mid"), str(tmp_path / name)).stdout)
        assert [part["name"] for part in data["parts"]] == names
        assert data["unmatched"] == alone
        assert not any(bar["added"] or bar["dropped"] for part in data["parts"] for bar in part["bars"])


def test_bars_are_lined_up_with_the_fewest_notes_that_differ() -> None:
    """Against all ways to pair a few bars in order."""
    rng = random.Random(1)

    def ways(a: int, b: int) -> Iterator[list[tuple[int, int]]]:
        for count in range(min(a, b) + 1):
            for old in combinations(range(a), count):
                yield from ([*zip(old, new, strict=True)] for new in combinations(range(b), count))

    def differ(one: BarOutlook, other: BarOutlook) -> Fraction:
        same = len({*one.notes} & {*other.notes})
        return 1 - Fraction(same, max(len(one.notes), len(other.notes)))

    for _ in range(100):
        old, new = (
            [bar(n, *rng.choices(range(60, 64), k=rng.randint(1, 3))) for n in range(rng.randint(0, 4))]
            for _ in range(2)
        )

        def cost(pairs: list[tuple[int, int]], old: list[BarOutlook] = old, new: list[BarOutlook] = new) -> Fraction:
            left = len(old) + len(new) - 2 * len(pairs)
            return sum((differ(old[a], new[b]) for a, b in pairs), Fraction(left, 2))

        found = [(p.before.bar, p.after.bar) for p in line_up(old, new) if p.before and p.after]
        assert cost(found) == min(map(cost, ways(len(old), len(new))))


def test_music_where_there_was_none_is_not_worse_by_itself() -> None:
    silent = BarOutlook(2, None, 0, 0, 0, ())
    (pair,) = line_up([silent], [bar(2, 60)])
    assert not pair.worse
    assert not pair.same


def test_a_changed_bar_is_paired_and_its_notes_named() -> None:
    (pair,) = line_up([bar(5, 60, 62, 64)], [bar(5, 60, 63, 64, verdict=Verdict.VIRTUOSO)])
    assert pair.dropped == ((Fraction(2), 62),)
    assert pair.added == ((Fraction(2), 63),)
    assert pair.worse


@pytest.mark.slow
@pytest.mark.parametrize("layer", ["pedals", "hands", "strings", "load"])
def test_each_layer_can_be_compared_by_itself(layer: str) -> None:
    # Without a plan nothing is known of strings and pedal changes; the bars and their notes are all the same.
    done = run("--json", FAST, REVISED, layer=layer)
    assert done.returncode == 0, done.stderr
    (part,) = json.loads(done.stdout)["parts"]
    assert len(part["bars"]) == 4


@pytest.mark.slow
def test_bars_have_the_counts_of_the_whole() -> None:
    # Added up over the bars: what each player cannot play, of all attacks.
    for path in sorted(RECORDINGS.glob("*.mid")):
        for part in check_file(path).files[0].parts:
            mine = next(count for count in part.counts if count.player == part.player)
            bars = bars_of(part)
            assert sum(bar.unplayable for bar in bars) == mine.unplayable, path.name
            assert sum(bar.audible for bar in bars) == mine.audible, path.name


@pytest.mark.slow
def test_notes_are_named_as_the_plan_spells_them() -> None:
    """As `spell` names them, in the octaves that were asked for; by both names where no plan is wanted."""
    plan = check_file(FAST).files[0].parts[0]
    names = [spelling.named("C3") for _, row in plan.spelled for spelling in row if spelling is not None]
    said = run("--middle-c", "C3", FAST, REVISED).stdout
    assert names[2] == "G♯3"
    assert "dropped G♯3 (beat 1¼), G♯3 (beat 3¾)" in said
    said = run(FAST, REVISED, layer="hands").stdout
    assert "dropped G♯4/A♭4 (beat 1¼), G♯4/A♭4 (beat 3¾)" in said
    assert "added E♮4 (beat 1¼)" in said


def test_a_bounded_search_is_said_of_each_version() -> None:
    searched = Total(Verdict.EASY, 0, 0, 3, 9, 8.0)
    bounded, other = (
        replace(searched, bounded=n, note=f"A better way may exist (at most {n} fewer)") for n in (1, 2)
    )

    def told(before: Total, after: Total) -> str:
        pair = BarPair(bar(1, 60), bar(1, 60))
        compared = Comparison("a", "b", (PartComparison("Harp", before, after, (pair,), "working"),))
        return "\n".join(map(plain_text, comparison_lines(compared, Look(signs_for("utf-8")))))

    assert "Remark: After: a better way may exist" in told(searched, bounded)
    assert "may be possible" not in told(searched, searched)
    assert told(bounded, other).casefold().count("a better way may exist") == 2
    assert [total.to_dict()["plan_bounded"] for total in (searched, other)] == [0, 2]


def test_it_helped_where_a_bar_did() -> None:
    """An easy bar that was playable, while the working player has no trouble in either: `watch` calls it better."""
    before, after = (Total(verdict, 0, 0, 3, 9, 8.0) for verdict in (Verdict.PLAYABLE, Verdict.EASY))
    pairs = (
        BarPair(bar(1, 60, verdict=Verdict.PLAYABLE), bar(1, 60)),
        BarPair(None, bar(2, 62)),
        BarPair(bar(2, 64), bar(3, 64)),
        BarPair(bar(3, 65), None),
    )
    compared = Comparison("a", "b", (PartComparison("Harp", before, after, pairs, "working"),))
    rows = [*map(plain_text, comparison_lines(compared, Look(signs_for("utf-8"))))]
    assert "It helped, and nothing got worse." in "\n".join(rows)
    assert [row[2:9].rstrip() for row in rows if row[2:3].isdigit()][:3] == ["1", "2 new", "3 gone"]


def test_the_tempo_that_livepedal_itself_proposes_is_no_worse(tmp_path: Path) -> None:
    """At 0.65 of its tempo what could not be played goes."""
    slower = tmp_path / "slower.mid"
    slower.write_bytes(slowed(FAST, 0.65))
    done = run(FAST, str(slower))
    assert done.returncode == 0, done.stdout
    assert "It helped, and nothing got worse. Better: bar 1 was unplayable and is now playable" in done.stdout
    assert "attacks that cannot be played: none instead of 6" in done.stdout


@pytest.mark.slow
def test_too_much_at_once_is_compared(tmp_path: Path) -> None:
    weir = str(RECORDINGS / "11-weir.mid")
    slower = tmp_path / "slower.mid"
    slower.write_bytes(slowed(weir, 0.59))
    worse, better = ("compare", str(slower), weir), ("compare", weir, str(slower))
    for arguments, code, told in (
        (worse, 1, "at once: 1 instead of none; the working player can no longer play it."),
        (better, 0, "at once: none instead of 1; the working player can play it now."),
    ):
        done = livepedal(*arguments)
        assert done.returncode == code, done.stdout
        assert told in done.stdout
        head, *rows = done.stdout.splitlines()[3:6]
        assert head.endswith("  too much at once")
        assert [row.endswith("  1 passage") for row in rows] == [not code, bool(code)]
        assert len(head) == len(rows[0]) == len(rows[1]) <= 80
        data = json.loads(livepedal(*arguments, "--json").stdout)
        (part,) = data["parts"]
        assert {part["before"]["too_much"], part["after"]["too_much"]} == {0, 1}
        assert part["worse" if code else "better"][-1] == told.split("; ")[1][:-1]
    assert "too much" not in run(FAST, HALF).stdout


def slowed(path: str, ratio: float) -> bytes:
    """A recording, which has one tempo, at this ratio of it."""
    song = mido.MidiFile(path)
    for track in song.tracks:
        for message in track:
            if message.type == "set_tempo":
                message.tempo = round(message.tempo / ratio)
    file = io.BytesIO()
    song.save(file=file)
    return file.getvalue()
