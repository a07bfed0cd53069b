"""What `share` and `combine` did, for a composer: who plays which bars, what was dropped, and what serves
each place best.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from livepedal.advice.judging.asides import AsideKind
from livepedal.advice.judging.report import PartReport
from livepedal.advice.remedies.telling import class_names
from livepedal.advice.two_harps.chair import FINGERS
from livepedal.advice.two_harps.combine import Combined, Dropped, Serves, Why
from livepedal.advice.two_harps.share import NAMES, Shared
from livepedal.advice.two_harps.turns import BOTH, Turn
from livepedal.harp import Player, pitch_name
from livepedal.model.findings import Outcome
from livepedal.music.timemap import Place
from livepedal.music.wording import place_text
from livepedal.sources.text import clean
from livepedal.views import words
from livepedal.views.lines import Line, Tone, line, tone_of
from livepedal.views.report.asides import together
from livepedal.views.report.look import INDENT, Look, note, wrapped

MOST_ROWS = 60  # turns, or bars with dropped notes, that are listed


def shared_lines(
    shared: Shared, player: Player, file_name: str, written: str | None, mending: str, look: Look
) -> Iterator[Line]:
    """A deal: who plays what, where the seams will be heard, and what each player faces.

    Args:
        written: the path of the new file; None where none was written.
        mending: the command that tells what would help in the new file.
    """
    title = words.title(file_name, shared.name)
    yield line((look.signs.write(f"{title} for two harps"), Tone.STRONG))
    yield from wrapped(_alone(shared, player), look)
    if written is None:
        if shared.double:
            yield from wrapped(_not_doubled(shared), look)
            yield from wrapped("Nothing was written.", look)
        else:
            yield from wrapped("Nothing was written; --double adds a second harp for weight.", look)
        return
    if shared.alone.outcome is not Outcome.PLAYS:
        yield from _turns(shared, look)
        yield from _seams(shared, look)
    yield from _places("Even two players cannot play this", shared.impossible, look)
    yield from _places("A pedal change is still heard", shared.audible, look)
    too_much = any(report.mine.too_much for report in shared.players)
    if too_much:
        yield from wrapped(_too_much(shared), look, Tone.UNPLAYABLE)
    if shared.exit_code:
        yield from wrapped(f"For the reasons and remedies: {mending}", look)
    if shared.doubled:
        yield from wrapped(
            f"{words.counted(shared.doubled, 'note')} added in octaves by the player who rests.", look
        )
    elif shared.double:
        yield from wrapped(_not_doubled(shared), look)
    yield line()
    yield from _players(shared.players, look)
    yield from wrapped(
        f"Written to {clean(written, 500)}, a track for each harp.", look, Tone.STRONG, indent=""
    )


def _not_doubled(shared: Shared) -> str:
    """Why no octaves were added although the user asked for them."""
    if all(turn.who == BOTH for turn in shared.turns):
        why = "both players play all the time"
    elif all(turn.quick or turn.who == BOTH for turn in shared.turns):
        why = "the turns are too short for the resting player to join in"
    else:
        why = (
            "with the octaves the resting player would have had too much to do at once, or too little time before"
            " their own next turn"
        )
    return f"Nothing could be doubled: {why}."


def _alone(shared: Shared, player: Player) -> str:
    who = f"one {player.name} player"
    mine = shared.alone.mine
    if mine.outcome is Outcome.PLAYS:
        return f"{who[:1].upper()}{who[1:]} can play all of it: no second harp is needed."
    texts = []
    if mine.too_much:
        many = "" if mine.too_much == 1 else f" in {mine.too_much} passages"
        texts.append(f"too many pedal changes at once{many}")
    if mine.unplayable:
        texts.append(f"{words.counted(mine.unplayable, 'attack')} cannot be played")
    if mine.audible:
        texts.append(f"{words.counted(mine.audible, 'attack')} only with an audible pedal change")
    return f"For {who} alone: {', '.join(texts)}."


def _too_much(shared: Shared) -> str:
    """Where two players still have too much at once, and what else was tried."""
    whose = []
    for report in shared.players:
        bars = {
            bar
            for load in report.loads
            if load.too_much
            for bar in range(report.place(load.start).bar, report.place(load.end).bar + 1)
        }
        if bars:
            whose.append(f"{clean(report.name)} in {words.bar_list(sorted(bars))}")
    text = f"There are still too many pedal changes at once: {'; '.join(whose)}."
    if not shared.tried:
        return text
    return f"{text} No other way of sharing avoids that; these were tried: {'; '.join(shared.tried)}."


def _turns(shared: Shared, look: Look) -> Iterator[Line]:
    yield line()
    if shared.bars:
        yield from wrapped(
            f"Shared in turns of {words.counted(shared.bars, 'bar')}, so that each player has less to do at once.",
            look,
        )
    hand_overs = shared.hand_overs
    yield line(
        (f"{INDENT}Who plays what", Tone.STRONG),
        (f" ({words.counted(hand_overs, 'hand-over')})", Tone.FAINT),
    )
    for turn in shared.turns[:MOST_ROWS]:
        who = "both  " if turn.who == BOTH else NAMES[turn.who]
        yield from wrapped(
            f"{who}  {_span(turn)}{_how(turn, look)}", look, indent=INDENT * 2, hang=4 * len(INDENT) + 4
        )
    if len(shared.turns) > MOST_ROWS:
        yield line(
            (f"{INDENT * 2}and {words.counted(len(shared.turns) - MOST_ROWS, 'more turn')}", Tone.FAINT)
        )


def _how(turn: Turn, look: Look) -> str:
    """That a turn is quick, or how both share it."""
    split = turn.split
    if split is None:
        return "  ! quick" if turn.quick else ""
    if split.from_note is not None:
        name = pitch_name(split.from_note, middle_c=look.middle_c)
        return f": {NAMES[0]} has the notes from {name} up, {NAMES[1]} those below"
    first, second = (" ".join(class_names(some)) for some in ({*range(12)} - {*split.classes}, split.classes))
    return f": note by note, {NAMES[0]} has {first}, {NAMES[1]} {second}"


def _span(turn: Turn) -> str:
    start, end = turn.start, turn.end
    first = place_text(start)
    if (end.bar, end.beat) <= (start.bar, start.beat):
        return first  # one attack
    if start.bar == end.bar:
        return f"{first} to beat {words.beat(end.beat)}"
    return f"{first} to {place_text(end)}"


def _seams(shared: Shared, look: Look) -> Iterator[Line]:
    quick = [turn for turn in shared.turns if turn.quick]
    if not quick:
        return
    bars = sorted({turn.start.bar for turn in quick})
    yield from wrapped(
        f"! In {words.bar_list(bars)} the players alternate within {words.span(shared.seam)}, which will not sound"
        " seamless. A slower tempo or another note would work better there.",
        look,
        Tone.VIRTUOSO,
    )


def _places(what: str, places: Sequence[Place], look: Look) -> Iterator[Line]:
    if places:
        shown = "; ".join(words.where(place) for place in places[:12])
        more = f"; and {words.counted(len(places) - 12, 'more place')}" if len(places) > 12 else ""
        yield from wrapped(f"{what}: {shown}{more}.", look, Tone.UNPLAYABLE)


def _players(reports: Sequence[PartReport], look: Look) -> Iterator[Line]:
    """A row for each player, and whether fewer pedal changes may be possible."""
    for report in reports:
        yield from _player(report, look)
    for name in dict.fromkeys(report.name for report in reports if report.plan.bounded):
        yield from note(words.not_all_tried(f"spelling of {clean(name)}"), look)


def _player(report: PartReport, look: Look) -> Iterator[Line]:
    mine = report.mine
    troubles = []
    if mine.unplayable:
        troubles.append(f"{words.counted(mine.unplayable, 'attack')} that cannot be played")
    if mine.audible:
        troubles.append(f"{words.counted(mine.audible, 'attack')} only with an audible pedal change")
    if mine.too_much:
        troubles.append(f"{words.counted(mine.too_much, 'passage')} with too many pedal changes at once")
    changes = len(report.plan.changes)
    text = (
        f" {clean(report.name)}: {words.counted(report.notes, 'note')},"
        f" {words.counted(changes, 'pedal change') if changes else 'no pedal changes'}"
        + (f", {' and '.join(troubles)}" if troubles else "")
        + f"; set {words.set_before(report.plan.setting, report.tuned)}"
    )
    head = f"{INDENT}{look.signs.verdict(report.verdict)}"
    first = True
    for row in wrapped(text, look, indent=head, hang=2 * len(INDENT)):
        yield (line((head, tone_of(report.verdict))) + row[1:]) if first else row
        first = False


# -- combine ---------------------------------------------------------------------------------------


def combined_lines(
    combined: Combined, player: Player, file_name: str, written: str, mending: str, look: Look
) -> Iterator[Line]:
    """Two parts made one: how they fare, what was dropped, what serves each place best.

    Args:
        written, mending: as for `shared_lines`.
    """
    first, second = combined.names
    yield line(
        (look.signs.write(f"{file_name}: {clean(first)} and {clean(second)} for one harp"), Tone.STRONG)
    )
    yield from wrapped(f"{clean(first)} leads and keeps every note. {_kept(combined)}", look)
    yield line()
    yield from _players((*combined.parts, combined.report), look)
    if combined.impossible:
        searched = (
            f"One {player.name} player cannot play this at this tempo, even without the octave doublings and inner"
            f" notes of {clean(second)} there and just before"
        )
        yield from _places(searched, combined.impossible, look)
    yield from _dropped(combined.dropped, look)
    yield from _full(combined, player, look)
    rolled = [aside for aside in combined.report.asides if aside.kind is AsideKind.ROLLED]
    for text in together(rolled, combined.report.place):
        yield from wrapped(f"The combined part has {text}.", look)
    yield line()
    yield line((f"{INDENT}What works best", Tone.STRONG))
    for advice in combined.advice:
        bars = words.bar_span(advice.first_bar, advice.last_bar)
        lost = f" ({words.counted(advice.dropped, 'note')} dropped)" if advice.dropped else ""
        yield from wrapped(
            f"{bars}: {advice.serves.value}: {advice.because}{lost}",
            look,
            Tone.UNPLAYABLE if advice.serves in (Serves.TWO, Serves.NEITHER) else Tone.PLAIN,
            indent=INDENT * 2,
            hang=3 * len(INDENT),
        )
    yield from wrapped(_written(combined, player, written), look, Tone.STRONG, indent="")
    if combined.report.outcome is Outcome.CANNOT:
        yield from wrapped(
            f"To try a slower tempo, or other notes to leave out: {mending}",
            look,
            indent="",
        )


def _written(combined: Combined, player: Player, written: str) -> str:
    """The path of the new file, and whether its music can be played."""
    text = f"Written to {clean(written, 500)}"
    report = combined.report
    if report.outcome is not Outcome.CANNOT:
        return f"{text}."
    bars = sorted({report.place(finding.us).bar for finding in report.findings if not finding.audible})
    where = f" in {words.bar_list(bars)}" if bars else ""
    return f"{text}. It holds both parts, but one {player.name} player cannot play them as they stand{where}."


def _kept(combined: Combined) -> str:
    second = clean(combined.names[1])
    if not combined.dropped and combined.impossible:
        return f"Nothing of {second} was dropped."
    if not combined.dropped:
        return f"{second} keeps every note too."
    return f"{second} keeps {combined.kept} of {words.counted(combined.of_notes, 'note')}."


def _full(combined: Combined, player: Player, look: Look) -> Iterator[Line]:
    """Where notes are dropped only because there are too few fingers, and how both parts do with nothing dropped."""
    whole = combined.whole
    if whole is None:
        return
    text = (
        f"In {words.bar_list(combined.full)} notes were dropped from chords of more than {FINGERS}, only because such"
        " chords have to be rolled."
    )
    if whole.outcome is not Outcome.CANNOT:
        counts = [one.mine.audible for one in (whole, combined.report)]
        heard = (
            f" (attacks with an audible pedal change: {counts[0]}, or {counts[1]} as combined here)"
            if any(counts)
            else ""
        )
        text += (
            f" If they are rolled, one {player.name} player can play both parts with nothing dropped{heard};"
            " livepedal check --merge with the same tracks judges that."
        )
    yield from wrapped(text, look)


def _dropped(dropped: Sequence[Dropped], look: Look) -> Iterator[Line]:
    if not dropped:
        return
    yield line()
    yield line((f"{INDENT}Dropped", Tone.STRONG), (f" ({words.counted(len(dropped), 'note')})", Tone.FAINT))
    groups = [(bar, list(notes)) for bar, notes in groupby(dropped, key=lambda d: d.place.bar)]
    for bar, notes in groups[:MOST_ROWS]:
        cells = []
        for why in Why:
            mine = [n for n in notes if n.why is why]
            if mine:
                names = ", ".join(
                    f"beat {beat} {' '.join(pitch_name(n.pitch, middle_c=look.middle_c) for n in at)}"
                    for beat, at in groupby(mine, key=lambda n: words.beat(n.place.beat))
                )
                cells.append(f"{why.value}: {names}")
        yield from wrapped(f"bar {bar}: {'; '.join(cells)}", look, indent=INDENT * 2, hang=3 * len(INDENT))
    if len(groups) > MOST_ROWS:
        yield line((f"{INDENT * 2}and in {words.counted(len(groups) - MOST_ROWS, 'more bar')}", Tone.FAINT))
