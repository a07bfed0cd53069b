"""The same answer everywhere: whatever the hash seed, locale, time zone, optimisation, number of processes, order of
files and Python, the JSON on the recordings is the same byte for byte.
"""

from __future__ import annotations

import importlib
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from tests.places import ROOT

RECORDINGS = sorted(str(path.relative_to(ROOT)) for path in (ROOT / "recordings").glob("*.mid"))
# Remedies are tried out, which takes long; those of three say enough about the order in which they are.
ADVISED = [path for path in RECORDINGS if path[len("recordings/") :][:2] in ("01", "03", "12")]
# What judging a file needs; python-rtmidi and watchfiles, which are compiled for one Python, are not among it.
NEEDED = ("mido", "packaging", "platformdirs", "rich", "markdown_it", "mdurl", "pygments")
BASE = {"PYTHONHASHSEED": "0", "LC_ALL": "C.UTF-8", "TZ": "UTC"}
ELSEWHERE = {
    "PYTHONHASHSEED": "4242",
    "LC_ALL": "C",
    "PYTHONUTF8": "0",
    "PYTHONCOERCECLOCALE": "0",
    "TZ": "Asia/Kathmandu",
    "PYTHONOPTIMIZE": "1",
}


def written(*arguments: str, python: str = sys.executable, **variables: str) -> bytes:
    env = {"PATH": os.environ["PATH"], "PYTHONPATH": str(ROOT), **variables}
    # On Windows no program starts without.
    env |= {name: os.environ[name] for name in ("SYSTEMROOT",) if name in os.environ}
    done = subprocess.run(
        [python, "-W", "error", "-m", "livepedal", "check", *arguments],
        cwd=ROOT,
        env=env,
        capture_output=True,
        timeout=300,
    )
    assert done.returncode == 1, done.stderr
    assert done.stderr == b""
    return done.stdout


@pytest.fixture(scope="module")
def base() -> tuple[bytes, bytes]:
    with ThreadPoolExecutor(2) as pool:
        plain = pool.submit(written, "--json", *RECORDINGS, **BASE)
        advised = pool.submit(written, "--json", "--remedies", "--sheet", *ADVISED, **BASE)
        return plain.result(), advised.result()


@pytest.mark.slow
def test_seed_locale_time_zone_optimisation_and_processes(base: tuple[bytes, bytes]) -> None:
    assert written("--json", "--jobs", "3", *RECORDINGS, **ELSEWHERE) == base[0]
    assert written("--json", "--remedies", "--sheet", *ADVISED, **ELSEWHERE) == base[1]


@pytest.mark.slow
def test_order_of_files(base: tuple[bytes, bytes]) -> None:
    """Each file gets the same report wherever it stands, and however many there are."""
    files = [json.dumps(file) for file in json.loads(base[0])["files"]]
    turned = json.loads(written("--json", "--jobs", "2", *reversed(RECORDINGS), **ELSEWHERE))["files"]
    assert [json.dumps(file) for file in reversed(turned)] == files
    alone = written("--json", RECORDINGS[2], **BASE)
    assert json.dumps(json.loads(alone)["files"][0]) == files[2]


def others() -> Iterator[str]:
    """Other Pythons from 3.11 on: on the path, and installed beside this one."""
    seen = {sys.version_info[:2]}
    beside = sorted(Path(sys.base_prefix).parent.glob("*3.1*/bin/python3"))
    found = [shutil.which(f"python3.{minor}") for minor in range(11, 16)]
    for path in [one for one in found if one] + [str(one) for one in beside]:
        try:
            told = subprocess.run(
                [path, "-c", "import sys; print(*sys.version_info[:2])"], capture_output=True, timeout=60
            )
            major, minor = map(int, told.stdout.split())
        except (OSError, ValueError, subprocess.TimeoutExpired):
            continue
        if (major, minor) >= (3, 11) and (major, minor) not in seen:
            seen.add((major, minor))
            yield path


@pytest.mark.slow
def test_other_pythons(base: tuple[bytes, bytes], tmp_path: Path) -> None:
    for name in NEEDED:
        module = importlib.import_module(name)
        assert module.__file__ is not None
        (tmp_path / name).symlink_to(Path(module.__file__).parent)
    path = os.pathsep.join((str(ROOT), str(tmp_path)))
    told = []
    for python in others():
        told.append(python)
        assert (
            written("--json", *RECORDINGS, python=python, **{**ELSEWHERE, "PYTHONPATH": path}) == base[0]
        ), python
    if not told:
        pytest.skip("there is no other Python here")
