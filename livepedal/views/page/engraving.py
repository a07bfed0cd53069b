"""The notation of a score on the page: one drawing (SVG) for each system.

The pedal changes are under the staff where the foot moves, findings above it, at their notes. Verovio engraves it,
which the extra `livepedal[score]` installs. What it is given is the score as `--marked` would write it, with the
harp's part alone: it draws words and coloured notes, but no harp-pedals diagrams, so the settings are words too.
"""

from __future__ import annotations

import codecs
import importlib.util
import json
import re
import subprocess
import sys
from collections.abc import Iterator, Sequence
from dataclasses import replace
from xml.etree import ElementTree

from markupsafe import Markup

from livepedal.advice.report import FileReport
from livepedal.harp import Position
from livepedal.sources.scores.marking import ScorePut, as_utf_8, marked_score
from livepedal.sources.scores.xml_units import document
from livepedal.views import words
from livepedal.views.page.timeline import sign_of
from livepedal.views.score_marks import PedalsAs, finding_puts, pedal_puts
from livepedal.views.signs import FULL

HOW = "To show the notation on the page: pip install 'livepedal[score]'"
PATIENCE = 120  # seconds for one part
MOST_BARS = 2000  # of a part that are engraved; an opera act has about that many
_WIDTH = 1500  # of a system, in tenths of a millimetre before scaling: three or four bars of harp music
_OPTIONS = {
    "pageWidth": _WIDTH,
    "pageHeight": 100,  # less than any system is high, so that each page is one
    "adjustPageHeight": True,
    "pageMarginTop": 20,
    "pageMarginBottom": 20,
    "pageMarginLeft": 10,
    "pageMarginRight": 40,
    "header": "none",
    "footer": "none",
    "breaks": "auto",
    "scale": 40,
    "svgViewBox": True,
    "mnumInterval": 1,
    "xmlIdSeed": 1,  # the same page whenever it is made
}
_VERDICTS = "".join((*FULL.shapes, words.FLAGS["audible"]))
_SINGLE = dict(enumerate("pmfrszn", 0xE520))
_SIGNS = "pppppp ppppp pppp ppp pp mp mf pf ff fff ffff fffff ffffff fp fz sf sfp sfpp sfz sfzp sffz rf rfz"
_DYNAMICS = _SINGLE | dict(enumerate(_SIGNS.split(), 0xE527))


def can_engrave() -> bool:
    """Whether Verovio is installed."""
    return importlib.util.find_spec("verovio") is not None


def systems_of(data: bytes, file: FileReport, number: int, identity: str) -> tuple[Markup, ...]:
    """The systems of a part in which the harp plays; none where the score cannot be engraved.

    Args:
        data: the score's file.
        file: its report.
        number: of the part in the report, from 0.
        identity: of the part on the page, which findings are linked by.
    """
    part = file.parts[number]
    alone = replace(file, parts=(part,))
    puts = pedal_puts(alone, PedalsAs.WORDS)
    if puts and part.music:
        # The setting stands at the first note, since systems before it are left out; further on the changes say enough.
        begin = replace(puts[0], tick=part.time_map.tick(part.music[0].us))
        puts = [_in_words(put) for put in (begin, *puts[1:]) if put.text or put is begin]
    found, coloured = finding_puts(alone, lambda group: f"{group.number} {sign_of(group.worst)}")
    marked = marked_score(data, file.path, [*puts, *found], coloured, archive=False)
    utf_8, _ = as_utf_8(document(marked))
    text, bars = _alone(utf_8.removeprefix(codecs.BOM_UTF8), [track.number for track in part.tracks])
    return tuple(_drawn(_engraved(text), bars, identity)) if len(bars) <= MOST_BARS else ()


# Verovio is compiled code, and a damaged score can crash it or keep it for ever: so it runs in a process of its own.
_ENGRAVE = """
import json, sys, verovio
text, options = json.load(sys.stdin.buffer)
verovio.enableLog(verovio.LOG_OFF)
toolkit = verovio.toolkit()
toolkit.setInputFrom("musicxml")
toolkit.setOptions(options)
pages = toolkit.getPageCount() if toolkit.loadData(text) else 0
sys.stdout.buffer.write(json.dumps([toolkit.renderToSVG(page + 1) for page in range(pages)]).encode())
"""


def _engraved(text: str) -> list[str]:
    """The pages of a document as SVG; none where Verovio cannot read it."""
    request = json.dumps([text, _OPTIONS]).encode()
    try:
        done = subprocess.run(
            [sys.executable, "-c", _ENGRAVE], input=request, capture_output=True, timeout=PATIENCE, check=True
        )
        pages: list[str] = json.loads(done.stdout)
    except (OSError, subprocess.SubprocessError, ValueError):
        return []
    return pages


def _in_words(put: ScorePut) -> ScorePut:
    text = put.text or " ".join(f"{letter}{Position(altered).sign}" for letter, altered in put.pedals)
    return replace(put, text=text, pedals=())


def _alone(data: bytes, tracks: Sequence[int]) -> tuple[str, list[str]]:
    """The document with the parts of these tracks alone, as text, and how its measures are numbered.

    It has been read before, so it is bounded and declares no entities (scores/xml_units.py).

    Args:
        data: in UTF-8.
        tracks: their numbers, counted as the score lists its parts.
    """
    score = ElementTree.fromstring(re.sub(rb"^\s*<\?xml[^>]*\?>", b"", data))
    if score.tag == "score-timewise":
        score = _partwise(score)
    parts = {part.get("id"): part for part in score.findall("part")}
    there = [name.get("id") for name in score.iterfind("part-list/score-part") if name.get("id") in parts]
    kept = [there[track - 1] for track in tracks if track <= len(there)]
    for parent in (score, *score.iterfind("part-list")):
        for child in tuple(parent):
            if child.tag in ("part", "score-part", "part-group") and child.get("id") not in kept:
                parent.remove(child)
    first = score.find("part")
    bars = [] if first is None else [measure.get("number", "") for measure in first.iter("measure")]
    return ElementTree.tostring(score, "unicode"), bars


def _partwise(timewise: ElementTree.Element) -> ElementTree.Element:
    """Measures with parts as parts with measures, which is all that Verovio reads."""
    score = ElementTree.Element("score-partwise", timewise.attrib)
    score.extend(child for child in timewise if child.tag != "measure")
    parts: dict[str, ElementTree.Element] = {}
    for measure in timewise.iter("measure"):
        for part in measure.iter("part"):
            identity = part.get("id", "")
            if identity not in parts:
                parts[identity] = ElementTree.SubElement(score, "part", part.attrib)
            ElementTree.SubElement(parts[identity], "measure", measure.attrib).extend(part)
    return score


def _drawn(pages: Sequence[str], bars: Sequence[str], identity: str) -> Iterator[Markup]:
    """Each system in which something is played."""
    done = 0
    for svg in pages:
        here = bars[done : done + svg.count('class="measure"')]
        done += len(here)
        if 'class="note"' not in svg:
            continue
        svg = re.sub(r"<desc>.*?</desc>", "", svg)
        svg = re.sub(r'<tspan font-family="Leipzig"[^>]*>([^<]*)</tspan>', _dynamics, svg)
        # A finding leads to what is said of it in the list.
        svg = re.sub(
            rf'<g id="[^"]*" class="dir">(?:(?!</g>).)*?>(\d+) [{_VERDICTS}]<(?:(?!</g>).)*</g>',
            lambda match: f'<a href="#{identity}-f{match[1]}">{match[0]}</a>',
            svg,
            flags=re.DOTALL,
        )
        label = f"bars {here[0]} to {here[-1]}" if len(here) > 1 else f"bar {here[0]}" if here else "notation"
        yield Markup(svg.replace("<svg ", f'<svg role="group" aria-label="{Markup.escape(label)}" ', 1))


def _dynamics(match: re.Match[str]) -> str:
    """Dynamics beside words are signs of the music font, which the page has not: letters of the text font instead.

    SMuFL: U+E520 to E526 are p, m, f, r, s, z, n; those that follow are whole signs.
    """
    letters = "".join(_DYNAMICS.get(ord(one), "") for one in match[1])
    return f'<tspan font-size="405px" font-weight="bold">{letters}</tspan>'
