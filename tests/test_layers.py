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
