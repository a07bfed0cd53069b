"""Line mode: one line for each thing that happens, for pipes, dumb terminals and screen readers."""

from __future__ import annotations

from livepedal.model.findings import Finding, Passage, Verdict
from livepedal.music.timemap import TimeMap
from livepedal.views import words
from livepedal.views.signs import Signs


def finding_line(finding: Finding, time_map: TimeMap, signs: Signs, middle_c: str = "C4") -> str:
    """One finding with its time: "2.55 s bar 2, beat 1.5: unplayable: A♭4 comes too soon ...; as G♯: ..."."""
    place = words.where(time_map.place(finding.us))
    verdict = "audible" if finding.audible else finding.verdict.word
    text = f"{words.moment(finding.us)}, {place}: {verdict}: {words.what(finding, middle_c)}"
    return signs.write("; ".join(filter(None, (text, words.figures(finding), *words.reasons(finding)))))


def passage_line(passage: Passage, time_map: TimeMap, signs: Signs) -> str:
    """One passage that is over, with its verdict."""
    start, end = time_map.place(passage.start), time_map.place(passage.end)
    bars = f"bar {start.bar}" if start.bar == end.bar else f"bars {start.bar} to {end.bar}"
    text = (
        f"{words.moment(passage.end)}, {bars}: passage of {words.counted(passage.attacks, 'attack')}:"
        f" {passage.verdict.word}"
    )
    if passage.audible and passage.verdict is not Verdict.UNPLAYABLE:
        text += ", with audible pedal changes"
    return signs.write(
        f"{text} ({words.MEANING[passage.verdict]})" if passage.verdict > Verdict.EASY else text
    )
