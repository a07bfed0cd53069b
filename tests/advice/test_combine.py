"""Two parts for one player (common practice, no source): alternating parts come
through whole, doubling parts lose the doubling, parts that are both busy do not combine.
"""

from __future__ import annotations

import io
from collections import Counter
from pathlib import Path

import mido
import pytest

from livepedal.advice.combine import Combined, Serves, Why, combine_parts
from livepedal.cli import main
from livepedal.harp import Figures
from livepedal.model.findings import Outcome
from livepedal.music import choose_parts, read_song
from tests.advice.making_midi import Struck, midi

RECORDINGS = Path(__file__).parents[2] / "recordings"


def combined(source: Path | bytes) -> Combined:
    song = read_song(source, name="test")
    figures = Figures.builtin()
    first, second = choose_parts(song)
    return combine_parts(first, second, song.keys, "test", figures, figures.instrument("47"), "working")


def struck(source: Path | bytes) -> Counter[tuple[float, int]]:
    """Every strike of a file by mido alone: (seconds, MIDI number)."""
    file = mido.MidiFile(source) if isinstance(source, Path) else mido.MidiFile(file=io.BytesIO(source))
    now, found = 0.0, Counter[tuple[float, int]]()
    for message in file:
        now += message.time
        if message.type == "note_on" and message.velocity:
            found[round(now, 3), message.note] += 1
    return found


def test_parts_that_alternate_by_the_bar_come_through_whole() -> None:
    banks = RECORDINGS / "08-two-banks.mid"
    made = combined(banks)
    assert made.dropped == ()
    assert made.impossible == ()
    assert made.report.outcome is Outcome.PLAYS
    assert struck(made.data) == struck(banks)
    assert {advice.serves for advice in made.advice} == {Serves.COMBINED}


def test_doubled_octaves_lose_the_doubling() -> None:
    # Five notes and the same five an octave lower are ten; a harpist has eight fingers (Rimsky-Korsakov, ch.
    # I; four in each hand).
    upper = (72, 74, 76, 79, 81)
    first: list[Struck] = [(2 * n, 1.5, upper) for n in range(4)]
    second: list[Struck] = [(2 * n, 1.5, tuple(p - 12 for p in upper)) for n in range(4)]
    made = combined(midi(("Harp I", first), ("Harp II", second)))
    assert made.impossible == ()
    assert made.dropped
    assert {dropped.why for dropped in made.dropped} == {Why.OCTAVE}
    assert all(dropped.pitch + 12 in upper for dropped in made.dropped)
    assert {advice.serves for advice in made.advice} <= {Serves.COMBINED, Serves.ONE}


def test_what_both_strike_is_struck_once() -> None:
    notes: list[Struck] = [(n, 0.9, (60, 64, 67)) for n in range(4)]
    made = combined(midi(("Harp I", notes), ("Harp II", notes)))
    assert Counter(dropped.why for dropped in made.dropped) == {Why.TWICE: 12}
    assert [advice.serves for advice in made.advice] == [Serves.ONE]


def test_the_leading_part_and_the_outer_voices_stay() -> None:
    first: list[Struck] = [(2 * n, 1.5, (72, 76, 79, 83)) for n in range(3)]
    second: list[Struck] = [(2 * n, 1.5, (41, 45, 50, 57, 74)) for n in range(3)]
    made = combined(midi(("Harp I", first), ("Harp II", second)))
    left = struck(made.data)
    for n in range(3):
        assert {72, 76, 79, 83} <= {pitch for at, pitch in left if at == float(n)}
    assert all(dropped.pitch not in (41, 83) for dropped in made.dropped)
    assert len(made.dropped) >= 3  # nine notes an attack, eight fingers


def test_parts_that_are_both_busy_do_not_combine_and_that_is_said() -> None:
    # G with A♭ and A: no setting holds the three (counted over all 2187 settings), and the outer voices are not to
    # be dropped.
    first: list[Struck] = [(n / 2, 0.4, (67, 69)) for n in range(8)]
    second: list[Struck] = [(n / 2, 0.4, (56,)) for n in range(8)]
    made = combined(midi(("Harp I", first), ("Harp II", second)))
    assert len(made.impossible) == 8
    assert made.report.outcome is Outcome.CANNOT
    assert [advice.serves for advice in made.advice] == [Serves.TWO]


def test_the_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "one.mid"
    banks = str(RECORDINGS / "08-two-banks.mid")
    assert (
        main(["combine", banks, "--track", "Harp I (near bank)", "--track", "Harp II", "-o", str(out)]) == 0
    )
    assert "no note is lost" in capsys.readouterr().out
    assert main(["check", str(out)]) == 0
    capsys.readouterr()
    assert main(["combine", banks, "-o", str(out)]) == 2
    assert "--force" in capsys.readouterr().err
    assert main(["combine", str(RECORDINGS / "01-slack-water.mid"), "-o", str(tmp_path / "x.mid")]) == 2
    assert "--track" in capsys.readouterr().err


def test_what_was_written_and_cannot_be_played_is_called_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """G, A♭ and A are three pitches on two strings' letters: no setting holds them (counted over all 2187)."""
    source, out = tmp_path / "two.mid", tmp_path / "one.mid"
    source.write_bytes(midi(("Harp I", [(0, 1, (72,)), (4, 1, (67, 68, 69))]), ("Harp II", [(0, 1, (60,))])))
    assert main(["combine", str(source), "-o", str(out)]) == 1
    told = " ".join(capsys.readouterr().out.split())
    assert "but it cannot be played as it stands in bar 2" in told
    assert "where it does not go it would not help" not in told
    source.write_bytes(midi(("Harp I", [(0, 1, (72,))]), ("Harp II", [(4, 1, (60,))])))
    assert main(["combine", str(source), "-o", str(out), "--force"]) == 0
    assert "cannot be played" not in capsys.readouterr().out


def test_one_part_has_nothing_to_be_combined_with(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    wheel = str(RECORDINGS / "03-paddle-wheel.mid")
    assert main(["combine", wheel, "-o", str(tmp_path / "one.mid")]) == 2
    error = capsys.readouterr().err
    assert "one harp part only" in error
    assert "which two" not in error
