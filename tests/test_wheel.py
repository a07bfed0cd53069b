"""What `pip install livepedal` brings is whole: built as a wheel, installed into an empty environment, used far from the
checkout.
"""

from __future__ import annotations

import subprocess
import sys
import venv
from pathlib import Path

import pytest

from tests.places import ROOT


def run(*command: str | Path, cwd: Path) -> str:
    done = subprocess.run(command, cwd=cwd, capture_output=True, encoding="utf-8", timeout=300)
    assert done.returncode in (0, 1), f"{command}: {done.stdout}{done.stderr}"
    return done.stdout


@pytest.mark.slow
def test_a_wheel_works_outside_the_checkout(tmp_path: Path) -> None:
    run(sys.executable, "-m", "build", "--wheel", "--outdir", tmp_path, ROOT, cwd=tmp_path)
    (wheel,) = tmp_path.glob("livepedal-*.whl")
    venv.create(tmp_path / "empty", with_pip=True)
    commands = tmp_path / "empty" / ("Scripts" if sys.platform == "win32" else "bin")
    run(commands / "python", "-m", "pip", "install", "-q", wheel, cwd=tmp_path)
    assert "PLAYABLE" in run(commands / "livepedal", "check", "moored", cwd=tmp_path)
    assert "unplayable" in run(
        commands / "livepedal", "replay", "paddle-wheel", "--plain", "--speed", "50", cwd=tmp_path
    )
    assert "cycle" in run(commands / "livepedal", "explain", "pedal-time", cwd=tmp_path)
