"""Too much at once has its remedy, and a tempo says what is heard at it: each judged again from a file at that tempo."""

from __future__ import annotations

from fractions import Fraction
from io import BytesIO
from pathlib import Path

import mido
import pytest

from livepedal import cli
from livepedal.advice.check import check_file
from livepedal.advice.judging.basis import Basis
from livepedal.advice.remedies.remedy import PartAdvice, RemedyKind
from livepedal.advice.remedies.search import part_advice
from livepedal.advice.report import CheckedPart
from livepedal.model.findings import Layer, Outcome
from livepedal.music.attacks import Gathered
from tests.advice.changed import BUILTIN, HARP, RECORDINGS, attacks_in, report_on

WEIR = RECORDINGS / "11-weir.mid"
WHEEL = RECORDINGS / "03-paddle-wheel.mid"
ENGINE = RECORDINGS / "14-engine-bells.mid"


def at_tempo(path, ratio: Fraction, figures: Path | None = None) -> CheckedPart:
    """The file with its tempos multiplied, by a library that is not livepedal's, judged like any file."""
    file = mido.MidiFile(path)
    for track in file.tracks:
        for message in track:
            if message.type == "set_tempo":
                message.tempo = round(message.tempo / ratio)
    data = BytesIO()
    file.save(file=data)
    return check_file(data.getvalue(), figures=figures).files[0].parts[0]


def advice_on(path, figures: Path | None = None) -> PartAdvice:
    advice = check_file(path, remedies=True, figures=figures).files[0].parts[0].advice
    assert advice is not None
    return advice


@pytest.mark.slow
def test_the_tempo_for_too_much_at_once_is_playable_as_a_file() -> None:
    advice = advice_on(WEIR)
    (place,) = advice.passages[0].places
    assert place.too_much
    (remedy,) = place.remedies
    assert remedy.kind is RemedyKind.TEMPO
    assert remedy.ratio is not None
    assert Fraction(1, 2) <= remedy.ratio < 1
    for ratio in (remedy.ratio, next(t.ratio for t in advice.tempos if t.player == "working")):
        assert ratio is not None
        assert at_tempo(WEIR, ratio).outcome is not Outcome.CANNOT
    above = at_tempo(WEIR, remedy.ratio + Fraction(1, 100))
    assert {finding.layer for finding in above.findings if not finding.audible} == {Layer.LOAD}


@pytest.mark.slow
def test_the_tempo_of_the_part_heeds_all_layers() -> None:
    """recordings/README.md, 14: pedals and too much at once; the slower of the two tempos is the part's."""
    advice = advice_on(ENGINE)
    ratios = [r.ratio for p in advice.passages for r in p.remedies if r.kind is RemedyKind.TEMPO]
    mine = next(one.ratio for one in advice.tempos if one.player == "working")
    assert len(ratios) == 2
    assert mine is not None
    assert mine <= min(ratio for ratio in ratios if ratio is not None)
    assert at_tempo(ENGINE, mine).outcome is not Outcome.CANNOT


@pytest.mark.slow
@pytest.mark.parametrize("path", sorted(RECORDINGS.glob("*.mid")), ids=lambda path: path.stem)
def test_no_trouble_goes_without_a_word(path) -> None:
    for part in check_file(path, remedies=True).files[0].parts:
        assert part.advice is not None
        places = [place for passage in part.advice.passages for place in passage.places]
        for finding in part.findings:
            if not finding.audible:
                mine = [place for place in places if place.start <= finding.us <= place.end]
                assert mine, finding
                assert all(place.remedies or place.hard for place in mine)


def test_the_table_of_counts_shows_what_is_too_much(capsys: pytest.CaptureFixture[str]) -> None:
    cli.main(["check", str(WEIR), "--plain"])
    out = capsys.readouterr().out
    (row,) = [
        row for row in out.splitlines() if "working player " in row and "table" not in row and "30" in row
    ]
    assert row.split()[-2:] == ["1", "passage"]
    assert "too much at once: more pedal changes in a passage than a player can keep up with" in out


@pytest.mark.slow
def test_a_folder_does_not_call_it_as_it_is(capsys: pytest.CaptureFixture[str]) -> None:
    cli.main(["check", str(WEIR), str(RECORDINGS / "01-slack-water.mid"), "--remedies", "--plain"])
    rows = capsys.readouterr().out.splitlines()
    assert "as it is" not in next(row for row in rows if "virtuoso" in row and "11-weir" in row)


@pytest.mark.slow
def test_a_tempo_says_what_is_heard_at_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """recordings/README.md, 03: where no finger damps, the pedals have time at the working player's tempo only if they
    slide.
    """
    own = tmp_path / "own.toml"
    players = "".join(f"[players.{name}]\ndamp = 0\n" for name in ("relaxed", "working", "virtuoso"))
    own.write_text(
        f"{players}[tempo]\nuneven = 0\n"
    )  # with room for an uneven hand there is time without a slide
    advice = advice_on(WHEEL, own)
    (remedy,) = [r for p in advice.passages for r in p.remedies if r.kind is RemedyKind.TEMPO]
    assert remedy.ratio is not None
    assert remedy.quiet is not None
    working = at_tempo(WHEEL, remedy.ratio, own).counts[1]
    assert (working.unplayable, working.audible) == (0, remedy.audible)
    assert remedy.audible > 0
    quietly = at_tempo(WHEEL, remedy.quiet, own).counts[1]
    assert (quietly.unplayable, quietly.audible) == (0, 0)
    assert at_tempo(WHEEL, remedy.quiet + Fraction(1, 100), own).counts[1].audible > 0
    assert next(t.audible for t in advice.tempos if t.player == "working") == remedy.audible
    cli.main(["check", str(WHEEL), "--remedies", "--plain", "--figures", str(own)])
    out = " ".join(capsys.readouterr().out.split())
    assert (
        f"playable with {remedy.audible} audible pedal changes; at ♩ = {int(remedy.quiet * 100)} with none"
        in out
    )


@pytest.mark.slow
def test_a_passage_has_its_own_tempos_where_another_one_has_none() -> None:
    """recordings/README.md, 11: too much at once for the working player, more so for the relaxed one. Then a rest, and G,
    A♭ and A at once, which no setting holds and no tempo mends.
    """
    attacks = attacks_in("11-weir.mid")
    us = attacks[-1].us + 9_000_000
    cluster = Gathered(us, tuple((pitch, us + 500_000) for pitch in (67, 68, 69)))
    basis = Basis(BUILTIN, HARP)
    advice = part_advice(report_on([*attacks, cluster], basis), basis)
    assert not any(tempo.sensible for tempo in advice.tempos)
    relaxed, working, virtuoso = advice.passages[0].tempos
    assert not relaxed.sensible
    assert working.sensible
    assert working.speed != virtuoso.speed == 1000
