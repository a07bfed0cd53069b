"""Shell completion, asked as a shell asks (argcomplete's protocol), and in a real bash."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from livepedal.cli.commands import SHELLS
from tests.places import ROOT


def asked(line: str, folder: Path) -> list[str]:
    """What would come next on a line, as bash asks for it: answers on descriptor 8, separated by \\v."""
    read, write = os.pipe()
    script = f"import os; os.dup2({write}, 8); os.dup2(2, 9)\nfrom livepedal.cli import main; main()"
    environment = {
        "_ARGCOMPLETE": "1",
        "_ARGCOMPLETE_IFS": "\v",
        "COMP_LINE": line,
        "COMP_POINT": str(len(line)),
    }
    subprocess.run(
        [sys.executable, "-c", script],
        env={**os.environ, "PYTHONPATH": str(ROOT), **environment},
        cwd=folder,
        pass_fds=[write],
        timeout=60,
    )
    os.close(write)
    with os.fdopen(read) as answers:
        return [answer.strip() for answer in answers.read().split("\v")]


def test_commands_options_and_files(tmp_path: Path) -> None:
    for ending in ("mid", "MID", "smf", "txt"):
        (tmp_path / f"ferry.{ending}").touch()
    assert {"check", "replay", "listen", "spell"} <= set(asked("livepedal ", tmp_path))
    assert "--player" in asked("livepedal check --pl", tmp_path)
    assert set(asked("livepedal check --player ", tmp_path)) == {"relaxed", "working", "virtuoso"}
    files = asked("livepedal check fe", tmp_path)
    assert {"ferry.mid", "ferry.MID", "ferry.smf"} <= set(files)
    assert "ferry.txt" not in files
    assert "12-moored" in asked("livepedal replay 12", tmp_path)


@pytest.mark.parametrize("shell", SHELLS)
def test_every_shell_has_its_lines(shell: str) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "livepedal", "completion", shell], capture_output=True, text=True, timeout=60
    )
    assert done.returncode == 0
    assert "livepedal" in done.stdout
    if shell in ("bash", "zsh", "fish") and shutil.which(shell):
        subprocess.run([shell, "-n"], input=done.stdout, text=True, check=True, timeout=60)


def test_without_argcomplete_it_says_what_to_install(tmp_path: Path) -> None:
    (tmp_path / "argcomplete.py").write_text("raise ModuleNotFoundError(name='argcomplete')")
    path = os.pathsep.join([str(tmp_path), str(ROOT)])
    done = subprocess.run(
        [sys.executable, "-m", "livepedal", "completion", "bash"],
        capture_output=True,
        text=True,
        timeout=60,
        env={**os.environ, "PYTHONPATH": path},
    )
    assert done.returncode == 2
    assert "pip install 'livepedal[completion]'" in done.stderr
