"""Line mode: one line for each thing that happens, for pipes, dumb terminals and screen readers.

Live, nobody knows bars before a tempo is told: then there is no time map, and the time stands alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from livepedal.model.findings import Finding, Passage, Verdict
from livepedal.model.instead import Instead
from livepedal.music.timemap import TimeMap
from livepedal.views import words
from livepedal.views.lines import Line
from livepedal.views.signs import Signs
from livepedal.views.widths import folded

# Said once, at the start.
NOT_USED = "In a setting · means that the pedal is not used."


def finding_line(
    finding: Finding,
    time_map: TimeMap | None,
    signs: Signs,
    middle_c: str = "C4",
    instead: Instead | None = None,
) -> str:
    """One finding: its time, its place where the bars are known, what is wrong, why, and what to play instead.

    Of one that is withdrawn, that it is.
    """
    where = f", {words.where(time_map.told(finding.us))}" if time_map else ""
    head = f"{words.moment(finding.us)}{where}"
    if finding.withdrawn:
        text = (
            f"{head}: withdrawn, because the notes after it make it playable: {words.what(finding, middle_c)}"
        )
        return signs.write(text)
    other = "" if instead is None else words.instead(instead, middle_c)
    text = f"{head}: {words.with_verdict(finding, middle_c)}"
    return signs.write("; ".join(filter(None, (text, *words.reasons(finding), other))))


def passage_line(passage: Passage, time_map: TimeMap | None, signs: Signs) -> str:
    """One passage that is over, with its verdict."""
    bars = "" if time_map is None else f" {words.reach(passage, time_map.told)},"
    text = (
        f"{words.moment(passage.end)}: passage over,{bars} {words.counted(passage.attacks, 'attack')}:"
        f" {passage.verdict.word}"
    )
    if passage.audible and passage.verdict is not Verdict.UNPLAYABLE:
        text += ", with audible pedal changes"
    if passage.verdict > Verdict.EASY:
        text += f" ({words.MEANING[passage.verdict]})"
    return signs.write(text)


def wrapped(lines: Iterable[Line], width: int | None) -> Iterator[Line]:
    """Lines folded at words for a terminal of this width (columns); None leaves them whole."""
    for shown in lines:
        text = "".join(text for text, _ in shown)
        if width is None or len(text) < width or not shown:
            yield shown
        else:
            yield from (((row, shown[0][1]),) for row in folded(text, max(width - 1, 20), 0, 2))
