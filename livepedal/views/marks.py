"""What goes back into the sequencer: a marker and a text at each group of findings, and the pedal changes.

Written in ASCII (b, n and #), because a MIDI file does not say how its texts are encoded and sequencers guess. What is
to fit on a ruler has at most 32 characters (judgement: what sequencers show beside each other).
"""

from __future__ import annotations

from collections.abc import Iterator
from enum import StrEnum

from livepedal.advice.judging.report import PartReport
from livepedal.advice.report import FileReport
from livepedal.sources.marking import Put
from livepedal.sources.raw import OWN_MARK, OWN_SHORT
from livepedal.views import words
from livepedal.views.signs import ASCII

LONGEST = 32
FLAGS = {"impossible": ", no time", "audible": ", audible", "tight": ", tight"}


class ChangesAs(StrEnum):
    """How pedal changes are written; not every sequencer keeps all of these."""

    TEXTS = "texts"
    MARKERS = "markers"
    LYRICS = "lyrics"


def marks(file: FileReport, middle_c: str, changes_as: ChangesAs) -> tuple[list[Put], list[Put], list[Put]]:
    """Markers, texts and lyrics, each in order of time.

    A group of findings is a marker such as "LP 3 A2 too fast x54", by its number in the report ("LP 2.3" for the third
    of a second part), and a text such as "livepedal: 3 unplayable: bars 11 to 17, 54 attacks: ...".
    """
    markers: list[Put] = []
    texts: list[Put] = []
    lyrics: list[Put] = []
    for number, part in enumerate(file.parts, 1):
        several = f"{number}." if len(file.parts) > 1 else ""
        name = f"{part.name}: " if several else ""
        for group in part.groups:
            finding = group.worst
            us = group.findings[0].us
            brief = f"{several}{group.number} {words.briefly(finding, middle_c)}"
            often = f" x{group.attacks}" if group.attacks > 1 else ""
            head = f"{name}{group.number} {words.verdict_of(finding)}"
            text = f"{head}: {words.spread(group, part.place)}: {words.in_full(finding, middle_c)}"
            markers.append(_short(part, us, brief, often))
            texts.append(_put(part, us, OWN_MARK + text))
        if changes_as is ChangesAs.TEXTS:
            texts += [_put(part, us, f"{OWN_MARK}{name}{text}") for us, text in _pedalling(part)]
        else:
            short = [_short(part, us, text) for us, text in _pedalling(part)]
            (markers if changes_as is ChangesAs.MARKERS else lyrics).extend(short)
    for some in (markers, texts, lyrics):
        some.sort(key=lambda put: put.tick)
    return markers, texts, lyrics


def _pedalling(part: PartReport) -> Iterator[tuple[int, str]]:
    """The setting, such as "set Db C- Bb | En Fn Gn Ab", and each change where the foot starts: "A# right foot"."""
    yield part.begin, f"set {words.set_before(part.plan.setting, part.tuned)}"
    for change in part.plan.changes:
        flag = FLAGS.get(words.change_kind(change), "")
        yield change.us, f"{words.change_name(change)} {change.foot.value} foot{flag}"


def _short(part: PartReport, us: int, text: str, end: str = "") -> Put:
    """A text for the ruler, cut if it does not fit."""
    text = ASCII.write(OWN_SHORT + text)
    return _put(part, us, text[: LONGEST - len(end)].rstrip() + end)


def _put(part: PartReport, us: int, text: str) -> Put:
    tick = max(0, part.time_map.tick(us))
    return Put(tick, ASCII.write(text), part.tracks[0].number)
