"""What Python users meet first: the names, their help, and arguments that are not quite what is written."""

from __future__ import annotations

import pydoc
from typing import Any

import pytest

import livepedal
from livepedal import LivepedalError, check_file
from livepedal.harp import Setting
from tests.places import RECORDINGS

WHEEL = RECORDINGS / "03-paddle-wheel.mid"
HARD = next(iter(check_file(WHEEL, only="pedals").files)).parts[0]


def test_dir_and_help_show_what_there_is() -> None:
    assert dir(livepedal) == sorted(livepedal.__all__)
    text = pydoc.plain(pydoc.render_doc(livepedal))
    for name in (
        "check_file(",
        "parse_request(",
        "class AskedSpelling",
        "class Report",
        "class Monitor",
        "class Setting",
    ):
        assert name in text


def test_a_report_is_one_line() -> None:
    report = check_file(WHEEL, only="pedals")
    for value in (report, report.files[0], report.files[0].parts[0]):
        assert len(repr(value)) < 200
        assert "\n" not in repr(value)
        assert "unplayable" in repr(value)


def test_findings_carry_bar_and_beat() -> None:
    # recordings/README.md, 03: the first trouble is in bar 1, a semiquaver in beat 1.
    first = min(HARD.findings, key=lambda finding: finding.us)
    assert (first.bar, first.beat) == (1, HARD.place(first.us).beat)


@pytest.mark.parametrize(
    ("plain", "meant"),
    [
        ({"harp": 47}, {"harp": "47"}),
        ({"only": "pedals"}, {"only": ["pedals"]}),
        ({"tracks": "Harp"}, {"tracks": ["Harp"]}),
        ({"tracks": 2}, {"tracks": ["2"]}),
        ({"channels": 1}, {"channels": [1]}),
        ({"start": "C major"}, {"start": Setting.parse("C major")}),
        (
            {"spelling": "1-2: F♭ major"},
            {"spelling": livepedal.AskedSpelling((livepedal.parse_request("1-2: F♭ major"),))},
        ),
    ],
    ids=str,
)
def test_what_can_only_mean_one_thing_is_taken_for_it(plain: dict[str, Any], meant: dict[str, Any]) -> None:
    layers = {"only": ["pedals"]}
    assert check_file(str(WHEEL), **layers | plain).to_dict() == check_file(WHEEL, **layers | meant).to_dict()


@pytest.mark.parametrize(
    "wrong",
    [
        {"harp": None},
        {"player": None},
        {"player": 1.5},
        {"only": None},
        {"only": [3.5]},
        {"tracks": None},
        {"channels": "one"},
        {"transpose": "up"},
        {"first_bar": None},
        {"from_bar": "2"},
        {"start": 7},
        {"figures": 3},
        {"spelling": 3},
        {"progress": 3},
        {"advising": "bar"},
    ],
    ids=str,
)
def test_what_means_nothing_is_told_in_a_sentence(wrong: dict[str, Any]) -> None:
    with pytest.raises(LivepedalError) as told:
        check_file(WHEEL, **wrong)
    (name,) = wrong
    assert name in str(told.value)
    assert str(told.value).endswith(".")


@pytest.mark.parametrize("source", [None, 3, ["a.mid"]])
def test_what_is_no_file(source: Any) -> None:
    with pytest.raises(LivepedalError, match="path or as its bytes"):
        check_file(source)
