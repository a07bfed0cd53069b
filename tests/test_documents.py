"""The README says what is so: its pictures and its table of figures are made by a script, its tour can be walked."""

from __future__ import annotations

import importlib.util
import re
import shlex
import subprocess
import sys
from pathlib import Path
from types import ModuleType
from xml.etree import ElementTree

import pytest

from livepedal.views.words import MEANING

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text("utf-8")
MAKE_AGAIN = "run python recordings/make_documents.py, and look at what it changed"


def documents() -> ModuleType:
    spec = importlib.util.spec_from_file_location("make_documents", ROOT / "recordings" / "make_documents.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def text_of(svg: str) -> list[str]:
    """What is written in a picture; how it is drawn is rich's matter."""
    return [
        element.text or "" for element in ElementTree.fromstring(svg).iter() if element.tag.endswith("}text")
    ]


def test_the_table_of_figures_is_up_to_date() -> None:
    assert documents().with_table(README) == README, MAKE_AGAIN


def test_every_figure_has_a_source_and_a_status() -> None:
    rows = documents().figures_table().splitlines()
    told = [row for row in rows if row.startswith("| `")]
    assert len(told) > 40
    for row in told:
        assert re.search(r"\*(read|judgement|memory)\*: ", row.rsplit("|", 2)[1]), row


def test_the_pictures_are_up_to_date() -> None:
    made = documents().pictures()
    assert {path.name for path in (ROOT / "recordings" / "pictures").iterdir()} == set(made)
    for name, svg in made.items():
        kept = (ROOT / "recordings" / "pictures" / name).read_text("utf-8")
        assert text_of(kept) == text_of(svg), f"{name}: {MAKE_AGAIN}"
        # Whoever looks at a picture asks no server for anything.
        assert re.findall(r"https?://[^\"']+", svg) == ["http://www.w3.org/2000/svg"]


def test_pictures_in_the_readme_exist() -> None:
    shown = re.findall(r"!\[[^]]+\]\(([^)]+)\)", README)
    assert shown
    for path in shown:
        assert (ROOT / path).is_file()


def tour() -> list[str]:
    section = README.split("## The tour")[1].split("\n## ")[0]
    return re.findall(r"^    (livepedal .*)$", section, re.M)


@pytest.mark.parametrize("command", tour())
def test_the_tour_can_be_walked(command: str) -> None:
    arguments = shlex.split(command)[1:]
    if arguments[0] == "replay":
        arguments += ["--speed", "50"]
    done = subprocess.run(
        [sys.executable, "-m", "livepedal", *arguments],
        cwd=ROOT,
        capture_output=True,
        encoding="utf-8",
        timeout=60,
    )
    assert done.returncode in (0, 1), done.stderr
    if "--remedies" in arguments:
        assert "♩ = 65 instead of 100" in done.stdout
    if "05" in arguments[-1] and arguments[0] == "check":
        assert "PLAYABLE" in done.stdout
        assert "Pedal changes of the working player: 3" in done.stdout


def test_the_words_are_explained() -> None:
    section = README.split("## Words")[1].split("\n## ")[0]
    for word in (
        "string",
        "pedal",
        "position",
        "setting",
        "attack",
        "spelling",
        "passage",
        "finding",
        "remedy",
        "player",
    ):
        assert f"\n| {word} |" in section
    for verdict in MEANING:
        assert f"`{verdict.word}`" in README
