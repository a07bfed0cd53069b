"""What changed from one export of a cue to the next, in a few clauses: worse, better, other.

Which files are exports of one cue is told by their names (common practice, no source): the same name, whatever
version it ends in ("cue 7 v2", "cue 7 (3)", "cue 7 - copy").
"""

from __future__ import annotations

import os
import re

from livepedal.advice.comparing.compare import MOST, Comparison, PartComparison
from livepedal.music.wording import bar_list, counted

_VERSION = re.compile(
    r"(?:[\s_.-]*(?:v(?:er(?:sion)?)?[\s_.]?\d+|\(\d+\)|copy(?:\s*\d+)?|rev(?:ision)?[\s_.]?\d+))+$"
)


def cue_of(path: str) -> str:
    """What all exports of a cue share: the folder, and the name without its version."""
    folder, name = os.path.split(path)
    stem = os.path.splitext(name)[0].casefold()
    return os.path.join(folder, _VERSION.sub("", stem) or stem)


def news(compared: Comparison) -> tuple[str, ...]:
    """One clause each, what got worse first; empty where no bar differs."""
    said: list[str] = []
    several = len(compared.parts) > 1
    for part in compared.parts:
        name = f"{part.name}: " if several else ""
        said += [name + clause for clause in _of(part)]
    said += [f"only one of the files has {name}" for name in compared.unmatched]
    return tuple(said)


def _of(part: PartComparison) -> list[str]:
    if part.strangers:
        return ["the two have hardly a note in common, so their bars are not compared"]
    said: list[str] = []
    for head, worse in (("worse", True), ("better", False)):
        clauses = part.in_short(worse=worse)
        if clauses:
            said.append(f"{head}: {', '.join(clauses)}")
    if part.before.changes != part.after.changes:
        text = f"{counted(part.after.changes, 'pedal change')} instead of {part.before.changes}"
        said.append(text + (" (the fewest found)" if part.before.note or part.after.note else ""))
    both = [
        (pair, pair.after.bar) for pair in part.bars if pair.before is not None and pair.after is not None
    ]
    other = [bar for pair, bar in both if pair.dropped or pair.added]
    new = sum(pair.before is None for pair in part.bars)
    gone = sum(pair.after is None for pair in part.bars)
    if other:
        said.append(f"other notes in {bar_list(other, MOST)}")
    if new:
        said.append(f"{new} new bars" if new > 1 else "a new bar")
    if gone:
        said.append(f"{gone} bars fewer" if gone > 1 else "one bar fewer")
    if not other and not new and not gone and round(part.before.seconds, 2) != round(part.after.seconds, 2):
        said.append(f"{part.after.seconds:.2f} s long instead of {part.before.seconds:.2f} s")
    differ = [bar for pair, bar in both if not pair.same]
    if differ and not said:
        said.append(f"the same notes judged, pedalled or spelled differently in {bar_list(differ, MOST)}")
    return said
