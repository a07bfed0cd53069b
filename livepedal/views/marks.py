"""What goes back into the sequencer: a marker at each finding, a text at each pedal change.

Written in ASCII (b, n and #), because a MIDI file does not say how its texts are encoded and sequencers guess.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from livepedal.advice.report import FileReport, PartReport
from livepedal.sources.marking import Put
from livepedal.sources.smf import OWN_MARK
from livepedal.views import words
from livepedal.views.signs import ASCII

FLAGS = {"impossible": f", {words.CHANGE_KINDS['impossible']}", "audible": ", audible", "tight": ", tight"}


def markers(file: FileReport, middle_c: str) -> list[Put]:
    """A marker at each moment that has findings, such as "livepedal: virtuoso: G#4/Ab4 comes too soon ..."."""
    return sorted(put for part in file.parts for put in _markers(part, _name(part, file), middle_c))


def _markers(part: PartReport, name: str, middle_c: str) -> Iterator[Put]:
    found = sorted(part.findings, key=lambda finding: (finding.us, finding.id))
    for us, together in groupby(found, key=lambda finding: finding.us):
        said = "; ".join(words.with_verdict(finding, middle_c) for finding in together)
        yield _put(part, us, name + said)


def texts(file: FileReport) -> list[Put]:
    """The setting to start with, such as "livepedal: set Db C- Bb | En Fn Gn Ab", and each change where the foot
    starts, such as "livepedal: A# right foot".
    """
    puts = []
    for part in file.parts:
        name = _name(part, file)
        puts.append(_put(part, part.begin, f"{name}set {words.set_before(part.plan.setting, part.tuned)}"))
        for change in part.plan.changes:
            flag = FLAGS.get(words.change_kind(change), "")
            text = f"{name}{words.change_name(change)} {change.foot.value} foot{flag}"
            puts.append(_put(part, change.us, text))
    return sorted(puts, key=lambda put: put.tick)


def _name(part: PartReport, file: FileReport) -> str:
    return f"{part.name}: " if len(file.parts) > 1 else ""


def _put(part: PartReport, us: int, text: str) -> Put:
    tick = max(0, part.time_map.tick(us))
    return Put(tick, ASCII.write(OWN_MARK + text), part.tracks[0].number)
