"""What is known and accepted: the findings of an earlier run, so that a later one fails only on what is new.

A finding is known by its file, part, kind and notes, not by its bar, so that bars put in before it make it no new one;
where there are more attacks with it than were accepted, it is new.
"""

from __future__ import annotations

import json
import os
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from livepedal.advice.summary import FailOn, FileSummary, Trouble
from livepedal.errors import LivepedalError
from livepedal.model.findings import Verdict
from livepedal.sources.text import clean

FORMAT = "livepedal-accepted"
# Part, kind, audible, notes.
_Key = tuple[str, str, bool, tuple[int, ...]]


@dataclass(frozen=True, slots=True)
class Baseline:
    """The accepted findings of each file: how many attacks have each. folder: paths are relative to it."""

    folder: str
    files: Mapping[str, Counter[_Key]]

    def new(self, file: FileSummary) -> tuple[Trouble, ...]:
        """The troubles of a file that were not accepted, or not so often."""
        known = self.files.get(_name(file.path, self.folder), Counter())
        met: Counter[_Key] = Counter()
        found = []
        for trouble in file.troubles:
            met[_key(trouble)] += trouble.attacks
            if met[_key(trouble)] > known[_key(trouble)]:
                found.append(trouble)
        return tuple(found)


def counts(trouble: Trouble, fail_on: FailOn | None) -> bool:
    """Whether a new finding makes a pass fail."""
    if fail_on is FailOn.AUDIBLE:
        return True
    if trouble.audible:
        return False
    least = {FailOn.UNPLAYABLE: Verdict.UNPLAYABLE, FailOn.VIRTUOSO: Verdict.VIRTUOSO}
    return fail_on is None or trouble.verdict >= least.get(fail_on, Verdict.EASY)


def read(path: Path) -> Baseline:
    """The accepted findings.

    Raises:
        LivepedalError: for any other file.
    """
    name = clean(str(path), 500)
    try:
        document = json.loads(path.read_text(encoding="utf-8"))
        if not isinstance(document, dict) or (document.get("format"), document.get("version")) != (FORMAT, 1):
            raise ValueError
        files = {
            file["path"]: Counter(
                {
                    (known["part"], known["kind"], known["audible"], tuple(known["notes"])): int(
                        known["attacks"]
                    )
                    for known in file["findings"]
                }
            )
            for file in document["files"]
        }
    except OSError as error:
        raise LivepedalError(f"{name} cannot be read ({error.strerror}); give --accept a file.") from None
    except (ValueError, KeyError, TypeError, RecursionError):
        raise LivepedalError(
            f"{name} holds no accepted findings; give --accept a file that it wrote, or a new name."
        ) from None
    return Baseline(_folder(path), files)


def written(path: Path, files: Iterable[FileSummary]) -> bytes:
    """The file at this path that accepts all findings of these files, the same bytes whenever it is made."""
    document = {
        "format": FORMAT,
        "version": 1,
        "files": [
            {"path": _name(file.path, _folder(path)), "findings": _accepted(file.troubles)} for file in files
        ],
    }
    return (json.dumps(document, ensure_ascii=True, indent=1) + "\n").encode("ascii")


def _accepted(troubles: Iterable[Trouble]) -> list[dict[str, object]]:
    met: Counter[_Key] = Counter()
    for trouble in troubles:
        met[_key(trouble)] += trouble.attacks
    return [
        {"part": part, "kind": kind, "audible": audible, "notes": list(notes), "attacks": attacks}
        for (part, kind, audible, notes), attacks in sorted(met.items())
    ]


def _key(trouble: Trouble) -> _Key:
    return trouble.part, trouble.kind.value, trouble.audible, trouble.notes


def _folder(path: Path) -> str:
    return os.path.dirname(os.path.abspath(path))


def _name(path: str, folder: str) -> str:
    """A file's path relative to the folder of the accepted findings, so that the current folder does not matter."""
    try:
        return Path(os.path.relpath(path, folder)).as_posix()
    except ValueError:  # on another drive
        return Path(path).as_posix()
