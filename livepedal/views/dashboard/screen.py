"""The dashboard: one immutable scene in, lines out, of exactly the size asked for.

A composer at a keyboard reads no tables. From top to bottom it answers, in the order in which they ask: can a
harp follow me (the passage's verdict, large enough to be read from a metre away); what just went wrong, in
words; what could I strike next; which pedals are tied up, and until when; and what happened in the last
seconds. When a passage is over, what would mend it takes the place of the last few seconds where there is no room
for both. How much of it a window holds stands in layout.py. Verdicts have a word and a shape beside their colour,
nothing blinks.

It draws light: strings are cut and joined, since tables and layouts cost many times as much, and a row that stays
the same is not written again (terminal.py).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from livepedal.model.findings import Passage, Verdict
from livepedal.model.snapshot import Snapshot
from livepedal.music.timemap import Place
from livepedal.sources.text import clean
from livepedal.views import words
from livepedal.views.dashboard import desk as desks
from livepedal.views.dashboard.canvas import Canvas
from livepedal.views.dashboard.desk import Act, Desk, Panel
from livepedal.views.dashboard.feet import feet
from livepedal.views.dashboard.history import (
    Chapter,
    Knows,
    draw_kept,
    draw_passage,
    draw_passages,
    finding_rows,
    group_rows,
    kept,
    mend_rows,
    nobody,
    setting_rows,
    spelled_rows,
    worth_rows,
)
from livepedal.views.dashboard.large import large
from livepedal.views.dashboard.layout import COLUMNS, MARGIN, ROWS, Layout, layout, small
from livepedal.views.dashboard.river import river
from livepedal.views.dashboard.strip import TITLE, strip
from livepedal.views.lines import Line, Tone, badge_of, tone_of
from livepedal.views.signs import FULL, Signs
from livepedal.views.widths import cells

_COMPLAINT = 3  # rows for why a setting was not taken, at the most
WRONG = "what went wrong"
_RULED = 8  # columns of a line across besides its title and what stands at its end
_AT_WORK = Desk()
_SETTINGS = "  a key, a setting, or stay E♭ major; Esc cancels"


@dataclass(frozen=True, slots=True)
class Scene:
    """All that the dashboard shows.

    Attributes:
        snapshot: of the monitor.
        title: what is heard.
        place: bar and beat of a moment (µs), None where nobody knows; best with a memory, since the same moments are
            drawn often.
        end: its length (µs), None while nobody knows.
        state: a word such as "paused", or "".
        lamp: whether any message came just now, None where none can.
        late: why the snapshot is not of this moment, "" where it is.
        details: something that was just said, or "".
        desk: what is looked at.
        chapters: the passages that are over.
        acts: what keys may ask for.
        input: what there is to know of the MIDI input, a line each.
        bells: how often the terminal's bell was to be rung so far.
        speed: of a replay, 1 for real time.
        check: the command that tells all for a player, and what it does not know.
        instead: what could be played instead.
    """

    snapshot: Snapshot
    title: str
    place: Callable[[int], Place | None]
    end: int | None = None
    speed: float = 1.0
    state: str = ""
    lamp: bool | None = None
    late: str = ""
    details: str = ""
    desk: Desk = _AT_WORK
    chapters: tuple[Chapter, ...] = ()
    acts: tuple[Act, ...] = ()
    input: tuple[str, ...] = ()
    bells: int = 0
    middle_c: str = "C4"
    signs: Signs = FULL
    check: Callable[[str], str] = lambda player: ""
    instead: Knows = nobody

    @property
    def ended(self) -> Chapter | None:
        """The passage that is shown, where it is over."""
        passage = self.snapshot.passage
        if passage is None or passage.open or not self.chapters:
            return None
        last = self.chapters[-1]
        return last if last.passage.start == passage.start else None

    @property
    def kept(self) -> Chapter | None:
        """The passage that is over whose advice stands beside the one that is shown."""
        last = kept(self.chapters, self.desk.dismissed)
        return None if last is None or last is self.ended else last

    @property
    def passage(self) -> Passage | None:
        """The passage that is shown, with all that is known of its verdict."""
        ended = self.ended
        return self.snapshot.passage if ended is None else ended.passage


def dashboard_lines(scene: Scene, width: int, height: int) -> list[Line]:
    """The scene in `height` lines, none longer than `width` columns."""
    if width < COLUMNS or height < ROWS:
        return _too_small(scene, width, height)
    canvas = Canvas(scene.signs, width, scene.middle_c)
    now = scene.desk.page in (Panel.NOW, Panel.PEDALS)
    rows = small(scene.signs, width)
    if now:
        rows = layout(scene.signs, width, height, scene.ended is not None, scene.kept is not None)
    _title(canvas, scene)
    _verdict(canvas, scene, rows)
    left = height - len(canvas.lines) - 1
    match scene.desk.page:
        case Panel.PASSAGES:
            draw_passages(canvas, scene.chapters, scene.desk.chosen, left)
        case Panel.PASSAGE:
            chapter = _chosen(scene)
            if chapter is not None:
                check = scene.check(chapter.player)
                draw_passage(canvas, chapter, scene.desk.top, left, check, scene.instead)
        case Panel.INPUT:
            _input(canvas, scene)
        case Panel.KEYS:
            canvas.rule("keys")
            for key, what in desks.all_keys(scene.acts, kept(scene.chapters) is not None, scene.kept is not None):
                canvas.row((f"  {key:<8}", Tone.STRONG), what)
        case Panel.NOW | Panel.PEDALS:
            _now(canvas, scene, rows)
    canvas.rows((), height - 1 - len(canvas.lines))
    _bottom(canvas, scene)
    return canvas.lines[:height]


def _now(canvas: Canvas, scene: Scene, rows: Layout) -> None:
    snapshot = scene.snapshot
    _wrong(canvas, scene, rows.wrong - 1)
    if scene.kept is not None and rows.kept:
        draw_kept(canvas, scene.kept, rows.kept)
    spelled = {note.pitch: note.spellings for note in snapshot.notes}

    def key(pitch: int) -> str:
        """A key that is down, by the string that plays it."""
        return words.note_name(pitch, spelled.get(pitch, ())[:1], scene.middle_c)

    now = max(snapshot.us, snapshot.soonest)
    signs = scene.signs
    if rows.strip:
        legend = f"{signs.solid} now {signs.hazy}{signs.hollow} soon {signs.rule} held"
        canvas.rule(TITLE, f"{legend} {words.FLAGS['audible']} slides")
        strip(canvas, snapshot.next_notes, now, key)
    more = (words.stand(snapshot.tuned), "sustain pedal down" if snapshot.sustained else "")
    feet(canvas, snapshot.pedals, now, key, rows.diagram, " · ".join(filter(None, more)))
    if rows.lanes:
        river(canvas, snapshot, rows.lanes)


def _too_small(scene: Scene, width: int, height: int) -> list[Line]:
    canvas = Canvas(scene.signs, max(width, 1))
    passage = scene.passage
    if passage is not None:
        canvas.row((scene.signs.verdict(passage.verdict), badge_of(passage.verdict)))
    canvas.row(f"{width}x{height} is too small:")
    canvas.row(f"needs {COLUMNS}x{ROWS},")
    canvas.row("or use --plain; q quits")
    canvas.rows((), height - len(canvas.lines))
    return canvas.lines[:height]


def _title(canvas: Canvas, scene: Scene) -> None:
    """What is heard, and how far it is."""
    now = scene.snapshot.us if scene.end is None else min(scene.snapshot.us, scene.end)
    time = _clock(now)
    if scene.end is not None:
        time = f"{time} of {_clock(scene.end)}"
    place = scene.place(now)
    bar = f"bar {place.bar}, beat {int(place.beat)}, " if place else ""
    speed = "" if scene.speed == 1 else f" ×{scene.speed:g}"
    state = f" {scene.state.upper()}" if scene.state else " BEHIND" if scene.late else ""
    lamp = "" if scene.lamp is None else f"{scene.signs.solid if scene.lamp else ' '} "
    right = f"  {bar}{time}{speed}{state} "
    title = clean(scene.title)
    path, colon, name = title.partition(": ")
    if cells(f" {lamp}{title}{right}") > canvas.width and "/" in path:
        title = f"…/{path.rpartition('/')[2]}{colon}{name}"  # the folder gives way first
    canvas.row((f" {lamp}{title}", Tone.STRONG), right=(right, Tone.PLAIN))


def _clock(us: int) -> str:
    """Minutes and seconds: "0:07"."""
    minutes, seconds = divmod(us // 1_000_000, 60)
    return f"{minutes}:{seconds:02d}"


def _verdict(canvas: Canvas, scene: Scene, rows: Layout) -> None:
    """The passage's verdict as a band across the screen, with what is said about it."""
    passage = scene.passage
    if passage is None:
        middle = (rows.word - 1) // 2
        for number in range(rows.word):
            canvas.row(f"  {scene.late or 'waiting for the first note'}" if number == middle else "")
        return
    picture = large(passage.verdict, canvas.signs, rows.size)
    about = _about(canvas, scene, passage)
    beside = dict(enumerate(about, (len(picture) - len(about)) // 2)) if rows.beside else {}
    band = [(row, beside.get(number, "")) for number, row in enumerate(picture)]
    if not rows.beside:
        verdict, where, last = about
        band.append(("", " · ".join(filter(None, (verdict, last, where)))))
    margin = " " * MARGIN
    for row, text in band:
        room = canvas.width - cells(row) - (3 if row else 2) * MARGIN
        text = canvas.fit(text, room)
        gap = " " * (canvas.width - cells(row) - cells(text) - 2 * MARGIN)
        line = f"{row}{gap}{text}" if row else f"{text}{gap}"
        canvas.row((f"{margin}{line}{margin}", badge_of(passage.verdict)))


def _about(canvas: Canvas, scene: Scene, passage: Passage) -> tuple[str, str, str]:
    """What is said beside the large letters: the verdict as text, where the passage is, how the last attack went.

    The verdict stands there once more for whoever reads by searching or by ear.
    """
    attacks = words.counted(passage.attacks, "attack")
    verdict = passage.verdict.word.upper()
    slides = ", audible" if passage.audible and passage.verdict is not Verdict.UNPLAYABLE else ""
    where = words.reach(passage, scene.place)
    if passage.open:
        start = scene.place(passage.start)
        where = f"from {words.moment(passage.start) if start is None else f'bar {start.bar}'}, {attacks}"
    if scene.late:
        return f"{verdict} as of {_clock(scene.snapshot.us)}{slides}", where, scene.late
    if passage.open:
        latest = scene.snapshot.latest
        last = "" if latest is None else f"last: {canvas.signs.verdict(latest)}"
        return f"{verdict} so far{slides}", where, last
    if scene.ended is not None and scene.ended.too_much:
        return f"passage over: {verdict}{slides}", f"{where}, {attacks}", "too much at once"
    return f"passage over: {verdict}{slides}", where, attacks


def _counts(scene: Scene, width: int) -> str:
    """How many attacks of the passage each player cannot play, and how many only audibly."""
    snapshot = scene.snapshot
    counts = {
        count.player: f"{count.player} {count.unplayable}" + (f"+{count.audible}~" if count.audible else "")
        for count in snapshot.counts
    }
    if snapshot.player in counts:
        counts[snapshot.player] = scene.signs.chosen + counts[snapshot.player]
    everyone = " ".join(counts.values())
    audible = ", audible~" if "~" in everyone else ""
    # At the least that of the player who is judged for.
    texts = (
        f"attacks they cannot play{audible}: {everyone}",
        f"cannot play{audible}: {everyone}",
        f"cannot play: {everyone}",
        f"cannot play{audible}: {counts.get(snapshot.player, '')}",
    )
    return next((text for text in texts if cells(text) <= width - len(WRONG) - _RULED), "") if counts else ""


def _wrong(canvas: Canvas, scene: Scene, rows: int) -> None:
    """The latest findings, the newest first, as many as there is room for.

    When the passage is over, the way out, and the worst of its findings.
    """
    canvas.rule(WRONG, _counts(scene, canvas.width))
    ended = scene.ended
    canvas.rows(_latest(canvas, scene, rows) if ended is None else _ended(canvas, scene, ended, rows), rows)


def _latest(canvas: Canvas, scene: Scene, rows: int) -> list[Line]:
    snapshot = scene.snapshot
    since = 0 if snapshot.passage is None else snapshot.passage.start
    findings = [finding for finding in snapshot.findings if finding.us >= since]
    if not findings:
        return [_nothing(snapshot.player)] if snapshot.attacks else [()]
    shown: list[Line] = []
    for finding in reversed(findings):
        left = rows - len(shown)
        if left < (1 if finding is findings[-1] else 2):
            break
        other = scene.instead(0, finding)
        shown += finding_rows(canvas, finding, scene.place, snapshot.player, other, left)
    return shown


def _nothing(player: str) -> Line:
    return ((f"    nothing for the {player} player", Tone.FAINT),)


def _ended(canvas: Canvas, scene: Scene, chapter: Chapter, rows: int) -> list[Line]:
    """Of a passage that is over: what would mend it, how the pedals are to stand before it, what is worth knowing.

    Then its worst finding and how many more there are; how it is best spelled, where there is room for all of that.
    """
    shown = mend_rows(canvas, chapter) + setting_rows(canvas, chapter) + worth_rows(canvas, chapter)
    spelled = spelled_rows(canvas, chapter)
    if not chapter.findings:
        return [_nothing(chapter.player or scene.snapshot.player), *canvas.clipped(shown + spelled, rows - 1)]
    worst, *others = chapter.groups
    more = len(others) + chapter.more
    room = rows - len(shown) - (more > 0)
    shown += group_rows(canvas, worst, chapter, scene.instead, room)
    if more:
        shown.append(((f" {words.counted(more, 'more finding')}: h, then Return", Tone.FAINT),))
    return canvas.clipped(shown + (spelled if len(shown) + len(spelled) <= rows else []), rows)


def _chosen(scene: Scene) -> Chapter | None:
    last = scene.chapters[-1] if scene.chapters else None
    return next((chapter for chapter in scene.chapters if chapter.number == scene.desk.chosen), last)


def _input(canvas: Canvas, scene: Scene) -> None:
    canvas.rule("what is heard")
    for text in scene.input:
        canvas.rows(canvas.block(clean(text, 2000), indent="  "))


def _bottom(canvas: Canvas, scene: Scene) -> None:
    """The line of help; something that was just said, or is being typed, stands in its place.

    That takes more rows where it needs them.
    """
    desk = scene.desk
    rows: list[Line] = []
    if desk.page is Panel.PEDALS:
        if desk.complaint:
            rows = canvas.clipped(canvas.block(desk.complaint, tone_of(Verdict.UNPLAYABLE)), _COMPLAINT)
        prompt = " Set the pedals: "
        typed = f"{prompt}{desk.typed}{canvas.signs.solid}"
        rows.append(((typed, Tone.STRONG), ("" if desk.typed or desk.complaint else _SETTINGS, Tone.FAINT)))
    elif scene.details:
        rows = canvas.clipped(canvas.block(clean(scene.details, 500), Tone.STRONG), _COMPLAINT)
    else:
        rows = [((f" {desks.help_line(desk, scene.acts, canvas.width - 1)}", Tone.FAINT),)]
    del canvas.lines[len(canvas.lines) + 1 - len(rows) :]
    canvas.rows(rows)
