"""README and manual say what is so: pictures and the table of figures are made by a script, the tour can be walked."""

from __future__ import annotations

import importlib.util
import re
import shlex
import subprocess
import sys
import tomllib
from types import ModuleType
from xml.etree import ElementTree

import pytest

from livepedal.cli import main, manual
from livepedal.harp import Player
from livepedal.harp.specs import specs_of
from livepedal.harp.tables import TABLES
from livepedal.model.findings import Kind
from livepedal.model.hands import FigurationKind
from livepedal.views.words import MEANING
from tests.places import ROOT

README = (ROOT / "README.md").read_text("utf-8")
MANUAL = ROOT / "livepedal" / "manual"
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
    page = (MANUAL / "figures.md").read_text("utf-8")
    assert documents().with_table(page) == page, MAKE_AGAIN


def test_every_figure_has_a_source_and_a_status() -> None:
    rows = documents().figures_table().splitlines()
    told = [row for row in rows if row.startswith("| `")]
    assert len(told) > 40
    for row in told:
        assert re.search(r"\*(read|judgement|memory)\*: \S", row.rsplit("|", 2)[1]), (
            f"figures.toml: give this figure a source that begins with read, judgement or memory: {row}"
        )
        assert row.split("|")[2].strip(), row  # what it is: the comment on its line


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
        assert "♩ = 56 instead of 100" in done.stdout
    if "05" in arguments[-1] and arguments[0] == "check":
        assert "PLAYABLE" in done.stdout
        assert "Pedal changes for the working player: 3" in done.stdout


def test_the_words_are_explained() -> None:
    words = manual.page("words")
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
        assert f"\n| {word} |" in words
    for verdict in MEANING:
        assert f"`{verdict.word}`" in README


def test_every_page_is_listed_and_linked() -> None:
    pages = {path.stem for path in MANUAL.glob("*.md")}
    assert pages == set(manual.PAGES)
    assert pages == set(re.findall(r"\(livepedal/manual/(\w+)\.md\)", README))


def test_links_and_page_names_lead_somewhere() -> None:
    for path in (ROOT / "README.md", *MANUAL.glob("*.md")):
        text = path.read_text("utf-8")
        for link in re.findall(r"\]\(([^)]+)\)", text):
            assert (path.parent / link).is_file(), link
        assert set(re.findall(r"`livepedal manual (\w+)`", text)) <= set(manual.PAGES)


@pytest.mark.parametrize("page", manual.PAGES)
def test_pages_can_be_read_in_80_columns(page: str) -> None:
    """Prose and commands; a terminal draws the tables, whose rows are a line each in Markdown."""
    wide = [row for row in manual.page(page).splitlines() if len(row) > 80 and not row.startswith("|")]
    assert not wide


def test_the_readme_is_short() -> None:
    assert len(README.splitlines()) <= 150


def test_every_kind_of_finding_is_explained() -> None:
    assert set(manual.sections()) == set(Kind)


def test_explain_lists_the_kinds(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["explain"]) == 0
    rows = capsys.readouterr().out.splitlines()[2:]
    assert [row.split()[0] for row in rows] == [kind.value for kind in Kind]
    assert all(len(row) <= 150 for row in rows)


@pytest.mark.parametrize("kind", Kind)
def test_explain_says_what_each_figure_is(kind: Kind, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["explain", kind.value]) == 0
    rows = [row for row in capsys.readouterr().out.splitlines() if row.startswith("- `")]
    assert all(re.search(r"`: .*\d", row) for row in rows), rows


def test_explained_figures_exist() -> None:
    """A section names figures of players (figures.toml) or other tables of it."""
    data = tomllib.loads((ROOT / "livepedal" / "harp" / "figures.toml").read_text("utf-8"))
    known = {*data["players"]["relaxed"], *data, *(f"{t}.{k}" for t, v in data.items() for k in v)}
    for kind, text in manual.sections().items():
        (told,) = re.findall(r"^Figures: (.*?)\n\n", text, re.M | re.S) or [""]
        assert set(re.findall(r"`([\w.]+)`", told)) <= known, kind


def test_the_line_of_every_figure_says_what_it_is() -> None:
    meanings = documents().meanings_in((ROOT / "livepedal" / "harp" / "figures.toml").read_text("utf-8"))
    for path, table in (("players.relaxed", Player), *TABLES.items()):
        for key in specs_of(table):
            assert f"{path}.{key}" in meanings, (
                f"say behind {key} in [{path}] of figures.toml what it is: the manual prints that"
            )


def test_every_figure_of_a_player_is_explained() -> None:
    told = "".join(page.read_text("utf-8").split("<!-- figures")[0] for page in MANUAL.glob("*.md"))
    for key in specs_of(Player):
        assert re.search(rf"[`*]{key}[`*]", told), (
            f"say in livepedal/manual/ what {key} does, where a finding comes from it (findings.md, files.md) or in figures.md"
        )


def test_every_figuration_is_explained() -> None:
    player = tomllib.loads((ROOT / "livepedal" / "harp" / "figures.toml").read_text("utf-8"))["players"][
        "relaxed"
    ]
    for kind in FigurationKind:
        (row,) = [line for line in manual.page("files").splitlines() if line.startswith(f"| {kind} ")]
        assert f"| `{kind}` |" in row
        assert kind in player
        assert f"`{kind}`" in manual.page("json")


@pytest.mark.parametrize("arguments", [["manual"], ["manual", "words"], ["explain", "pedal-time"]])
def test_the_manual_is_shown(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(arguments) == 0
    shown = capsys.readouterr().out
    assert {"manual": "dashboard  the screen of", "words": "| pedal |", "pedal-time": "cycle"}[
        arguments[-1]
    ] in shown


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["manual", "word"], "did you mean words?"),
        (["manual", "zzz"], "dashboard, files"),
        (["explain", "pedaltime"], "did you mean pedal-time?"),
    ],
)
def test_a_wrong_page_is_one_sentence(
    arguments: list[str], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(arguments) == 2
    said = capsys.readouterr().err
    assert told in said
    assert said.count("\n") == 1


@pytest.mark.parametrize("command", ["check", "tracks", "spell"])
def test_a_recording_is_known_by_its_name(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([command, "moored"]) == 0
    assert "12-moored" in capsys.readouterr().out or command != "check"


def test_an_unknown_name_lists_the_recordings(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["spell", "nothing-like-it"]) == 2
    assert "03-paddle-wheel" in capsys.readouterr().err
    for command in ("spell", "check", "replay"):
        assert main([command, "paddle-weel"]) == 2
        said = capsys.readouterr()
        assert "did you mean paddle-wheel?" in said.out + said.err
