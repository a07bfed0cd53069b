"""The dashboard: one immutable scene in, one Text out, of exactly the size asked for.

From top to bottom it answers what a composer at a keyboard asks: can a harp follow me (the passage's
verdict), how do the feet stand (the seven pedals, drawn as harpists draw them, each held or free), how are my
notes played (spelling), and what just went wrong, in words. 80 columns and 24 rows hold all of it; more rows
show more attacks and findings, more columns let the sentences run on.

It draws light: strings are cut and joined here and handed to rich as one Text with as few spans as there are
changes of tone, since tables and layouts cost ten times as much (figures in DEVELOPERS.md).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby
from typing import TYPE_CHECKING

from livepedal.harp import Foot, Pedal, Position
from livepedal.model.findings import Finding, Passage, PedalView, Snapshot, Verdict
from livepedal.music.timemap import Place
from livepedal.sources.text import clean
from livepedal.views import words
from livepedal.views.lines import Line, Span, Tone, badge_of, rich_text, tone_of
from livepedal.views.signs import FULL, Signs

if TYPE_CHECKING:
    from rich.text import Text

COLUMNS, ROWS = 80, 24  # what it needs to be complete
_FIXED_ROWS = 14  # rows that do not grow: head, verdict, counts, pedals, rules, keys
_LABELS = 7  # columns for what the rows of the pedals mean
_DIVIDER = 3  # columns between the feet
_SHAPE = 4  # columns for the widest shape of a verdict, and a blank
_ROOM_FOR_AGO = 14
_SECOND = 1_000_000


@dataclass(frozen=True, slots=True)
class Scene:
    """All that the dashboard shows.

    snapshot: of the monitor; title: what is heard; place: bar and beat of a moment (µs), None where nobody
    knows; best with a memory, since the same moments are drawn often; end: its length (µs), None while nobody
    knows; state: a word such as "paused", or ""; details: a line of small print, or ""; keys: the line of
    help; speed: of a replay, 1 for real time.
    """

    snapshot: Snapshot
    title: str
    place: Callable[[int], Place | None]
    end: int | None = None
    speed: float = 1.0
    state: str = ""
    details: str = ""
    keys: str = "Ctrl-C ends"
    middle_c: str = "C4"
    signs: Signs = FULL


def dashboard(scene: Scene, width: int, height: int) -> Text:
    """The scene as one Text of `height` lines, none longer than `width` columns."""
    return rich_text(dashboard_lines(scene, width, height))


def dashboard_lines(scene: Scene, width: int, height: int) -> list[Line]:
    """The same as lines with tones, for tests and other views."""
    if width < COLUMNS or height < ROWS:
        return _too_small(scene, width, height)
    spare = height - _FIXED_ROWS
    attacks = max(3, spare // 3)
    canvas = _Canvas(scene.signs, width)
    _head(canvas, scene)
    _verdict(canvas, scene)
    _pedals(canvas, scene)
    canvas.rule("just played")
    _attacks(canvas, scene, attacks)
    canvas.rule("what went wrong")
    last = 2 if scene.details else 1
    _findings(canvas, scene, height - len(canvas.lines) - last)
    while len(canvas.lines) < height - last:
        canvas.row()
    if scene.details:
        canvas.row((f" {clean(scene.details, 500)}", Tone.FAINT))
    canvas.row((f" {scene.keys}", Tone.FAINT), right=(f"middle C is {scene.middle_c.upper()} ", Tone.FAINT))
    return canvas.lines


def _too_small(scene: Scene, width: int, height: int) -> list[Line]:
    canvas = _Canvas(scene.signs, max(width, 1))
    passage = scene.snapshot.passage
    if passage is not None:
        canvas.row((scene.signs.verdict(passage.verdict), badge_of(passage.verdict)))
    canvas.row(f"{width}x{height} is too small:")
    canvas.row(f"needs {COLUMNS}x{ROWS},")
    canvas.row("or use --plain")
    while len(canvas.lines) < height:
        canvas.row()
    return canvas.lines[:height]


class _Canvas:
    """Lines being drawn, each cut or filled to the width, so that a line drawn over another leaves nothing of
    it.
    """

    def __init__(self, signs: Signs, width: int) -> None:
        self.signs = signs
        self.width = width
        self.lines: list[Line] = []

    def row(self, *spans: Span | str, right: Span | None = None) -> None:
        """One line; `right` stands at its end, and what is on the left gives way to it."""
        room = self.width
        tail: Span | None = None
        if right is not None:
            tail = (self.fit(right[0], room), right[1])
            room -= cells(tail[0])
        done: list[Span] = []
        for span in spans:
            text, tone = (span, Tone.PLAIN) if isinstance(span, str) else span
            text = self.fit(text, room)
            if text:
                done.append((text, tone))
                room -= cells(text)
        if room > 0:
            done.append((" " * room, Tone.PLAIN))
        if tail is not None:
            done.append(tail)
        self.lines.append(tuple(done))

    def rule(self, title: str) -> None:
        """A line across, with a title in it."""
        rule = self.signs.rule
        head = self.fit(f"{rule * 2} {title} ", self.width)
        self.lines.append(((head + rule * (self.width - cells(head)), Tone.FAINT),))

    def fit(self, text: str, room: int) -> str:
        """The text as this output can show it, cut to a number of columns."""
        text = self.signs.write(text)
        if cells(text) <= room:
            return text
        more = self.signs.write("…")
        if room <= len(more):
            return text[:0]
        return _cut(text, room - len(more)) + more


def _head(canvas: _Canvas, scene: Scene) -> None:
    """What is heard and how far it is; under it a line across that fills as time passes."""
    now = scene.snapshot.us
    heard = now if scene.end is None else min(now, scene.end)
    time = words.moment(heard)
    if scene.end is not None:
        time = f"{time} of {words.moment(scene.end)}"
    place = scene.place(heard)
    bar = f"{words.where(place)}, " if place else ""
    speed = "" if scene.speed == 1 else f" ×{scene.speed:g}"
    state = f" {scene.state.upper()}" if scene.state else ""
    canvas.row(
        (f" {clean(scene.title)}", Tone.STRONG),
        right=(f"  {bar}{time}{speed}{state} ", Tone.PLAIN),
    )
    signs, width = canvas.signs, canvas.width
    done = min(width, width * heard // scene.end) if scene.end else 0
    canvas.lines.append(((signs.full * done, Tone.FREE), (signs.empty * (width - done), Tone.FAINT)))


def _verdict(canvas: _Canvas, scene: Scene) -> None:
    """The passage's verdict as a band across the screen, and under it how each player fares."""
    snapshot = scene.snapshot
    passage = snapshot.passage
    if passage is None:
        canvas.row("  waiting for the first note")
    else:
        badge = badge_of(passage.verdict)
        text = f"  {canvas.signs.shapes[passage.verdict]} {passage.verdict.word.upper()}  "
        if passage.audible and passage.verdict is not Verdict.UNPLAYABLE:
            text += "with audible pedal changes  "
        about = canvas.fit(_about(passage, scene.place), canvas.width - cells(text) - 2)
        gap = canvas.width - cells(text) - cells(about) - 2
        canvas.row((f"{text}{' ' * max(gap, 0)}{about}  ", badge))
    spans: list[Span] = [
        (f"  unplayable of {words.counted(snapshot.attacks, 'attack')}:", Tone.FAINT),
    ]
    for count in snapshot.counts:
        chosen = count.player == snapshot.player
        text = f"  {canvas.signs.chosen + ' ' if chosen else ''}{count.player} {count.unplayable}"
        if count.audible:
            text += f"+{count.audible}~"
        spans.append((text, Tone.STRONG if chosen else Tone.PLAIN))
    legend = "  ~ audible " if any(count.audible for count in snapshot.counts) else ""
    room = canvas.width - sum(cells(span[0]) for span in spans)
    canvas.row(*spans, right=(legend if cells(legend) <= room else "", Tone.FAINT))


def _about(passage: Passage, place: Callable[[int], Place | None]) -> str:
    start, end = place(passage.start), place(passage.end)
    attacks = words.counted(passage.attacks, "attack")
    if passage.open:
        since = words.moment(passage.start) if start is None else f"bar {start.bar}"
        return f"passage from {since} on, so far {attacks}"
    if start is None or end is None:
        return f"passage over: {words.moment(passage.start)} to {words.moment(passage.end)}, {attacks}"
    return f"passage over: {words.bars(start, end)}, {attacks}"


def _pedals(canvas: _Canvas, scene: Scene) -> None:
    """The pedal diagram writ large: a block above the line is flat, on it natural, below it sharp."""
    signs = canvas.signs
    pedals = scene.snapshot.pedals
    column = (canvas.width - _LABELS - _DIVIDER) // len(Pedal)
    rule, divider = signs.rule, signs.divider.center(_DIVIDER)
    left = column * len(Foot.LEFT.pedals)
    head = f"{rule * 2} left foot ".ljust(_LABELS + left, rule)
    canvas.row((f"{head}{rule} right foot ".ljust(canvas.width, rule), Tone.FAINT))

    def across(label: str, spans: list[Span], fill: str = " ", middle: str = divider) -> None:
        feet = len(Foot.LEFT.pedals)
        canvas.row((label.ljust(_LABELS), Tone.FAINT), *spans[:feet], (middle, Tone.FAINT), *spans[feet:])

    across("", [_centred(*_standing(view), column) for view in pedals])
    for position in (Position.FLAT, Position.NATURAL, Position.SHARP):
        natural = position is Position.NATURAL
        fill = rule if natural else " "
        middle = signs.cross.center(_DIVIDER, rule) if natural else divider
        across(
            f"     {position.sign}",
            [_centred(*_block(signs, view, position, fill), column, fill) for view in pedals],
            middle=middle,
        )
    across("string", [_centred(*_free(view, scene.snapshot.us), column) for view in pedals])
    ago = " ago" if column >= _ROOM_FOR_AGO else ""
    across("moved", [_centred(_moved(view, scene.snapshot.us, ago), Tone.PLAIN, column) for view in pedals])


def _standing(view: PedalView) -> Span:
    """Letter and position, several where the readings differ."""
    if not view.positions:
        return view.pedal.letter, Tone.FAINT
    signs = "/".join(position.sign for position in view.positions)
    return f"{view.pedal.letter}{signs}", Tone.SURE if len(view.positions) == 1 else Tone.LIKELY


def _block(signs: Signs, view: PedalView, position: Position, fill: str) -> Span:
    if position not in view.positions:
        return fill * 3, Tone.FAINT
    if len(view.positions) == 1:
        return signs.solid * 3, Tone.SURE
    return signs.hazy * 3, Tone.LIKELY


def _free(view: PedalView, now: int) -> Span:
    """Whether the letter's strings are free, and for how long they have been."""
    if not view.positions:
        return "not used", Tone.FAINT
    if view.free_since is None:
        return "HELD", Tone.HELD
    free = max(now - view.free_since, 0)
    return f"free {_age(free)}", Tone.FREE


def _moved(view: PedalView, now: int, ago: str) -> str:
    """The last change, and how long ago it was."""
    if view.changed is None or not view.positions:
        return ""
    goal = "/".join(position.sign for position in view.positions)
    return f"{view.changed.start.sign}→{goal} {_age(max(now - view.changed.us, 0))}{ago}"


def _age(us: int) -> str:
    tenths = us // (_SECOND // 10)
    if tenths < 100:
        return f"{tenths // 10}.{tenths % 10}s"
    return f"{tenths // 10}s" if tenths < 6000 else f"{tenths // 600}min"


def _centred(text: str, tone: Tone, width: int, fill: str = " ") -> Span:
    return text.center(width, fill), tone


def _attacks(canvas: _Canvas, scene: Scene, rows: int) -> None:
    """The latest attacks, the newest first, each note as the harp plays it."""
    wrong = {finding.us: finding for finding in scene.snapshot.findings}
    attacks = [(us, list(notes)) for us, notes in groupby(scene.snapshot.notes, key=lambda note: note.us)]
    for us, notes in attacks[: -rows - 1 : -1]:
        finding = wrong.get(us)
        mark: Span = (" ", Tone.PLAIN)
        if finding is not None:
            mark = (canvas.signs.shapes[finding.verdict], tone_of(finding.verdict))
        place = scene.place(us)
        names = "  ".join(words.played_name(note, scene.middle_c) for note in notes)
        canvas.row(
            " ",
            (mark[0].ljust(_SHAPE), mark[1]),
            ((f"bar {place.bar}, beat {words.beat(place.beat)}" if place else "").ljust(17), Tone.FAINT),
            (f"{words.moment(us):>8}  ", Tone.FAINT),
            (names, Tone.STRONG if us == attacks[-1][0] else Tone.PLAIN),
        )
    for _ in range(rows - len(attacks)):
        canvas.row()


def _findings(canvas: _Canvas, scene: Scene, rows: int) -> None:
    """The latest findings, the newest first, as many as there is room for."""
    if not scene.snapshot.findings:
        canvas.row(("    nothing so far" if scene.snapshot.attacks else "", Tone.FAINT))
        return
    for finding in reversed(scene.snapshot.findings):
        told = _told(canvas, scene, finding)
        if rows < 2:
            return
        for spans in told[:rows]:
            canvas.row(*spans)
        rows -= len(told)


def _told(canvas: _Canvas, scene: Scene, finding: Finding) -> list[list[Span | str]]:
    """One finding: where and by how much, what, and why for each spelling."""
    verdict = f" {canvas.signs.verdict(finding.verdict)}"
    if finding.audible:
        verdict += ", audible"
    numbers = words.figures(finding)
    place = f"  {words.when(scene.place(finding.us), finding.us)}"
    told: list[list[Span | str]] = [
        [
            (verdict, tone_of(finding.verdict)),
            place,
            (f"  {numbers}" if numbers else "", Tone.STRONG),
        ],
        [("   " + words.what(finding, scene.middle_c), Tone.STRONG)],
    ]
    for why in words.reasons(finding):
        told += [[f"     {row}"] for row in _folded(canvas.signs.write(why), canvas.width - 6)]
    return told


def _folded(text: str, width: int) -> list[str]:
    """The text in lines of at most so many characters, cut at blanks."""
    rows = []
    while len(text) > width:
        at = text.rfind(" ", 0, width + 1)
        if at <= 0:
            at = width
        rows.append(text[:at])
        text = "  " + text[at:].lstrip()
    return [*rows, text]


@lru_cache(maxsize=4096)
def cells(text: str) -> int:
    """Columns that the text takes on a terminal; names from files may hold wide characters."""
    if text.isascii():
        return len(text)
    from rich.cells import cell_len

    return cell_len(text)


def _cut(text: str, width: int) -> str:
    if text.isascii():
        return text[:width]
    from rich.cells import set_cell_size

    return set_cell_size(text, width)
