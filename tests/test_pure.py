"""`livepedal.check_file` is a pure function that any engine can map over an archive; the manual's examples of that
are run here as they stand (the one with Dask where Dask is installed; it is no dependency).
"""

from __future__ import annotations

import importlib.util
import multiprocessing
import os
import pickle
import re
import subprocess
import sys
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path

import pytest

import livepedal
from livepedal.harp import Figures
from tests.places import ROOT

RECORDINGS = sorted((ROOT / "recordings").glob("*.mid"))
EXAMPLES = re.findall(
    r"(?m)^((?:    .*(?:\n|\Z)|\n)+)", (ROOT / "livepedal" / "manual" / "scripting.md").read_text("utf-8")
)
ENGINES = [block for block in EXAMPLES if "livepedal.check_file(" in block and "import" in block]


@pytest.mark.slow
@pytest.mark.parametrize("path", RECORDINGS, ids=lambda path: path.stem)
def test_the_same_twice_and_through_a_pickle(path: Path) -> None:
    figures = Figures.builtin()
    before = pickle.dumps(figures)
    report = livepedal.check_file(path, figures=figures, remedies=path.name.startswith(("03", "12")))
    assert pickle.loads(pickle.dumps(report)).to_dict() == report.to_dict()
    again = livepedal.check_file(
        path.read_bytes(), name=str(path), figures=figures, remedies=path.name.startswith(("03", "12"))
    )
    assert again.to_dict() == report.to_dict()
    assert pickle.dumps(figures) == before


def test_what_cannot_be_judged_goes_through_a_pickle_too() -> None:
    with pytest.raises(livepedal.LivepedalError) as caught:
        livepedal.check_file(b"no music", name="letter.mid")
    assert str(pickle.loads(pickle.dumps(caught.value))) == str(caught.value)


@pytest.mark.slow
def test_in_processes_that_share_nothing() -> None:
    judge = partial(livepedal.check_file, figures=Figures.builtin(), only=("pedals",))
    some = RECORDINGS[:4]
    with ProcessPoolExecutor(2, mp_context=multiprocessing.get_context("spawn")) as pool:
        there = [report.to_dict() for report in pool.map(judge, some)]
    assert there == [judge(path).to_dict() for path in some]


@pytest.mark.slow
def test_without_the_pedalling_the_verdicts_are_the_same() -> None:
    for path in RECORDINGS:
        whole, less = (
            livepedal.check_file(path, figures=Figures.builtin(), pedalling=wanted).files[0].parts
            for wanted in (True, False)
        )
        for one, other in zip(whole, less, strict=True):
            assert (one.verdict, one.audible, one.findings, one.passages) == (
                other.verdict, other.audible, other.findings, other.passages,
            )  # fmt: skip
            assert other.plan.changes == ()
            assert [count.changes for count in other.counts] == [None] * 3


@pytest.mark.slow
@pytest.mark.parametrize("engine", ["concurrent.futures", "dask"])
def test_the_examples_of_the_readme(engine: str, tmp_path: Path) -> None:
    (example,) = [block for block in ENGINES if engine in block]
    if importlib.util.find_spec(engine.split(".")[0]) is None:
        pytest.skip(f"{engine} is not installed")
    lines = [line.removeprefix("    ") for line in example.splitlines()]
    assert len([line for line in lines if line]) <= 10
    script = tmp_path / "judge_all.py"
    script.write_text("\n".join(lines) + "\n", encoding="utf-8")
    env = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "utf-8"}
    done = subprocess.run(
        [sys.executable, str(script)], cwd=ROOT, env=env, capture_output=True, encoding="utf-8", timeout=300
    )
    assert done.returncode == 0, done.stderr
    told = dict(line.rsplit(" ", 1) for line in done.stdout.splitlines())
    everything = sorted((ROOT / "recordings").glob("**/*.mid"))
    assert list(told) == [str(path.relative_to(ROOT)) for path in everything]
    assert told[str(Path("recordings") / "03-paddle-wheel.mid")] == "unplayable"
