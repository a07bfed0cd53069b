"""Line mode: one line for each thing that happens, for pipes, dumb terminals and screen readers.

Live, nobody knows bars before a tempo is told: then there is no time map, and the time stands alone.
"""

from __future__ import annotations

from livepedal.model.findings import Finding, Passage, Verdict
from livepedal.music.timemap import TimeMap
from livepedal.views import words
from livepedal.views.signs import Signs


def finding_line(finding: Finding, time_map: TimeMap | None, signs: Signs, middle_c: str = "C4") -> str:
    """One finding with its time: "2.55 s bar 2, beat 1.5: unplayable: A♭4 comes too soon ...; as G♯: ..."."""
    place = f", {words.where(time_map.place(finding.us))}" if time_map else ""
    verdict = "audible" if finding.audible else finding.verdict.word
    text = f"{words.moment(finding.us)}{place}: {verdict}: {words.what(finding, middle_c)}"
    return signs.write("; ".join(filter(None, (text, words.figures(finding), *words.reasons(finding)))))


def passage_line(passage: Passage, time_map: TimeMap | None, signs: Signs) -> str:
    """One passage that is over, with its verdict."""
    bars = ""
    if time_map is not None:
        bars = f", {words.bars(time_map.place(passage.start), time_map.place(passage.end))}"
    text = (
        f"{words.moment(passage.end)}{bars}: passage of {words.counted(passage.attacks, 'attack')}:"
        f" {passage.verdict.word}"
    )
    if passage.audible and passage.verdict is not Verdict.UNPLAYABLE:
        text += ", with audible pedal changes"
    return signs.write(
        f"{text} ({words.MEANING[passage.verdict]})" if passage.verdict > Verdict.EASY else text
    )
