"""The import rule: a package imports only what stands before it in the line, and harp and errors."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import livepedal

ROOT = Path(livepedal.__file__).parent
LINE = ("sources", "music", "model", "advice", "views")
MODEL_MAY_NOT = {"time", "threading", "socket", "os", "pathlib", "io", "asyncio", "subprocess", "random"}
FILES = sorted(path for package in ("harp", *LINE) for path in (ROOT / package).rglob("*.py"))


def imported(path: Path) -> set[str]:
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module)
            found |= {f"{node.module}.{alias.name}" for alias in node.names}
        elif isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
    return found


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(ROOT)))
def test_no_import_runs_up_the_line(path: Path) -> None:
    package = path.relative_to(ROOT).parts[0]
    allowed = {"harp"} if package == "harp" else {"harp", *LINE[: LINE.index(package) + 1]}
    packages = {name.split(".")[1] for name in imported(path) if name.startswith("livepedal.")}
    assert packages & {"harp", *LINE, "live", "cli", "replay"} <= allowed


@pytest.mark.parametrize("path", sorted((ROOT / "model").rglob("*.py")), ids=lambda path: path.name)
def test_the_model_reads_no_clock_and_does_no_io(path: Path) -> None:
    assert not {name.split(".")[0] for name in imported(path)} & MODEL_MAY_NOT


# A room of the model imports what stands before it; `""` is what stands in the model itself.
ROOMS = ("feet", "hands", "", "plan")


@pytest.mark.parametrize("path", sorted((ROOT / "model").rglob("*.py")), ids=lambda path: path.name)
def test_the_rooms_of_the_model_stand_in_a_line(path: Path) -> None:
    inner = path.relative_to(ROOT / "model").parts
    room = inner[0] if len(inner) > 1 else ""
    found = set()
    for name in at_run_time(path):
        if name.startswith("livepedal.model."):
            found.add(name.split(".")[2] if name.split(".")[2] in ROOMS else "")
    assert found <= set(ROOMS[: ROOMS.index(room) + 1])


def at_run_time(path: Path) -> set[str]:
    """What a file imports, but for what only type checkers read."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    only_types = {
        inner
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING"
        for inner in ast.walk(node)
    }
    return {
        node.module
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and node.module and node not in only_types
    }


def test_no_files_import_each_other_in_a_circle() -> None:
    graph = {}
    for path in sorted(ROOT.rglob("*.py")):
        if path.name != "__init__.py":  # a face hands names on, and may be imported from behind it
            name = ".".join(("livepedal", *path.relative_to(ROOT).with_suffix("").parts))
            graph[name] = imported(path)
    graph = {name: there & graph.keys() for name, there in graph.items()}
    while free := [name for name, there in graph.items() if not there]:
        for name in free:
            del graph[name]
        graph = {name: there & graph.keys() for name, there in graph.items()}
    assert not graph
