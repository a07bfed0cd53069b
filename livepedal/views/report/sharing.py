"""What `share` and `combine` did, for a composer: who plays which bars, what was dropped, what serves a place best."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from livepedal.advice.judging.asides import AsideKind
from livepedal.advice.judging.report import PartReport
from livepedal.advice.remedies.telling import class_names
from livepedal.advice.two_harps.combine import Combined, Dropped, Serves, Why
from livepedal.advice.two_harps.share import NAMES, Shared
from livepedal.advice.two_harps.turns import BOTH, Turn
from livepedal.harp import Player, pitch_name
from livepedal.model.findings import Outcome
from livepedal.music.wording import place_text, plain
from livepedal.sources.text import clean
from livepedal.views import words
from livepedal.views.lines import Line, Tone, tone_of
from livepedal.views.report.asides import aside_texts
from livepedal.views.report.look import INDENT, Look
from livepedal.views.report.text import finding_lines

MOST_ROWS = 60  # turns, or bars with dropped notes, that are listed


def shared_lines(
    shared: Shared, player: Player, file_name: str, written: str | None, mending: str, look: Look
) -> Iterator[Line]:
    """Who plays what, where the seams will be heard, and what each player faces.

    Args:
        shared: one part on two harps.
        player: the one that it was judged for.
        file_name: as the report names it.
        written: the path of the new file; None where none was written.
        mending: the command that tells what would help in the new file.
        look: how it is written.
    """
    yield from look.text(f"{words.title(file_name, shared.name)} for two harps", 0, Tone.STRONG)
    yield from look.text(_alone(shared, player))
    if written is None:
        if shared.double:
            yield from look.text(_not_doubled(shared))
        hint = "." if shared.double else "; --double adds a second harp for weight."
        yield from look.text(f"Nothing was written{hint}")
        return
    if shared.alone.outcome is not Outcome.PLAYS:
        yield from _turns(shared, look)
    for report in shared.players:
        yield from finding_lines(report, look, clean(report.name))
    if any(report.mine.too_much for report in shared.players):
        yield from look.text("Taking turns more often does not avoid too many pedal changes at once.")
    if shared.exit_code:
        yield from look.text(f"For the reasons and remedies: {mending}")
    if shared.doubled:
        added = words.counted(shared.doubled, "note")
        yield from look.text(f"{added} added in octaves by the player who rests.")
    elif shared.double:
        yield from look.text(_not_doubled(shared))
    yield ()
    yield from _players(shared.players, look)
    names = [
        f"{plain(first)} and {plain(second)} in {words.bar_list(bars, words.MOST_BARS)}"
        for (first, second), bars in shared.two_names.items()
    ]
    if names:
        yield from look.remark(
            f"{' and '.join(NAMES)} read the same note under two names, because each part is spelled for its own"
            f" pedals: {'; '.join(names)}"
        )
    yield from look.text(f"Written to {clean(written, 500)}, a track for each harp.", 0, Tone.STRONG)


def _not_doubled(shared: Shared) -> str:
    """Why no octaves were added although the user asked for them."""
    if all(turn.who == BOTH for turn in shared.turns):
        why = "both players play all the time"
    elif all(turn.lasts < shared.seam or turn.who == BOTH for turn in shared.turns):
        why = "the turns are too short for the resting player to join in"
    else:
        why = (
            "with the octaves the resting player would have had too much to do at once, or too little time before"
            " their own next turn"
        )
    return f"Nothing could be doubled: {why}."


def _alone(shared: Shared, player: Player) -> str:
    if shared.alone.mine.outcome is Outcome.PLAYS:
        return f"One {player.name} player can play all of it: no second harp is needed."
    return f"For one {player.name} player alone: {', '.join(_troubles(shared.alone))}."


def _troubles(report: PartReport) -> list[str]:
    """What the chosen player cannot do in a part, or only audibly."""
    mine = report.mine
    counts = (
        (mine.unplayable, "attack", "that cannot be played"),
        (mine.audible, "attack", "with an audible pedal change"),
        (mine.too_much, "passage", "with too many pedal changes at once"),
    )
    return [f"{words.counted(count, thing)} {what}" for count, thing, what in counts if count]


def _turns(shared: Shared, look: Look) -> Iterator[Line]:
    """Who plays what, and the seams that will be heard."""
    yield from look.heading("Who plays what", f" ({words.counted(len(shared.turns), 'turn')})")
    if shared.short:
        where = words.bar_list(shared.short)
        yield from look.text(f"In {where} they take turns more often, so that each has fewer pedal changes at once.", 2)
    quick = shared.quick
    for turn in shared.turns[:MOST_ROWS]:
        who = "both  " if turn.who == BOTH else NAMES[turn.who]
        yield from look.text(f"{who}  {_span(turn)}{_how(turn, turn in quick, look)}", 2, hang=8)
    if len(shared.turns) > MOST_ROWS:
        yield from look.faint(f"and {words.counted(len(shared.turns) - MOST_ROWS, 'more turn')}")
    bars = sorted({turn.start.bar for turn in quick})
    if bars:
        yield from look.text(
            f"! In {words.bar_list(bars)} the players alternate within {words.span(shared.seam)}, which will not"
            " sound seamless. A slower tempo or another note would work better there.",
            1,
            Tone.VIRTUOSO,
        )


def _how(turn: Turn, quick: bool, look: Look) -> str:
    """That a turn is quick, or how both share it."""
    split = turn.split
    if split is None:
        return "  ! quick" if quick else ""
    if split.border is not None:
        name = pitch_name(split.border, middle_c=look.middle_c)
        return f": {NAMES[split.upper]} has the notes from {name} up, {NAMES[1 - split.upper]} those below"
    first, second = (" ".join(class_names(some)) for some in ({*range(12)} - {*split.classes}, split.classes))
    return f": note by note, {NAMES[0]} has {first}, {NAMES[1]} {second}"


def _span(turn: Turn) -> str:
    start, end = turn.start, turn.end
    first = place_text(start)
    if (end.bar, end.beat) <= (start.bar, start.beat):
        return first  # one attack
    last = f"beat {words.beat(end.beat)}" if start.bar == end.bar else place_text(end)
    return f"{first} to {last}"


def _players(reports: Sequence[PartReport], look: Look) -> Iterator[Line]:
    """A row for each player, and whether a better way may exist."""
    for report in reports:
        facts = [words.counted(report.notes, "note"), words.changes(len(report.plan.changes))]
        facts += _troubles(report)
        setting = words.set_before(report.plan.setting, report.tuned)
        text = f" {clean(report.name)}: {', '.join(facts)}; set {setting}"
        head = (f"{INDENT}{look.signs.verdict(report.verdict)}", tone_of(report.verdict))
        yield from look.row(head, text, hang=4)
    for name in dict.fromkeys(report.name for report in reports if report.plan.bounded):
        yield from look.remark(words.not_all_tried(f"spelling of {clean(name)}"))


def combined_lines(
    combined: Combined, player: Player, file_name: str, written: str, mending: str, look: Look
) -> Iterator[Line]:
    """Two parts made one: how they fare, what was dropped, what serves each place best (as `shared_lines`)."""
    report = combined.report
    first, second = map(clean, combined.names)
    yield from look.text(f"{file_name}: {first} and {second} for one harp", 0, Tone.STRONG)
    cannot = report.outcome is Outcome.CANNOT
    answer = f"One {player.name} player {'cannot' if cannot else 'can'} play both parts"
    lost = words.counted(len(combined.dropped), "note")
    of = f"of the {combined.of_notes} of {second}"
    if not combined.dropped:
        yield from look.text(f"{answer}{'' if cannot else ', and no note is lost'}.")
    elif cannot:
        yield from look.text(f"{answer}, even with {lost} {of} left out to make other places playable.")
    else:
        are = "is" if len(combined.dropped) == 1 else "are"
        yield from look.text(f"{answer} if {lost} {of} {are} left out.")
    yield ()
    yield from _players((*combined.parts, report), look)
    yield from finding_lines(report, look, f"one {player.name} player")
    if combined.impossible:
        yield from look.text(
            f"Leaving out the octave doublings and inner notes of {second} there and just before would not help."
        )
    yield from _dropped(combined.dropped, look)
    yield from _full(combined, 2 * player.fingers, look)
    rolled = [aside for aside in report.asides if aside.kind is AsideKind.ROLLED]
    for text in aside_texts(rolled, report.place):
        yield from look.text(f"The combined part has {text}.")
    yield from look.heading("What works best")
    for advice in combined.advice:
        bars = words.bar_span(advice.first_bar, advice.last_bar)
        lost = f" ({words.counted(advice.dropped, 'note')} dropped)" if advice.dropped else ""
        tone = Tone.UNPLAYABLE if advice.serves in (Serves.TWO, Serves.NEITHER) else Tone.PLAIN
        yield from look.text(f"{bars}: {advice.serves.value}: {advice.because}{lost}", 2, tone, hang=2)
    yield from look.text(f"Written to {clean(written, 500)}.", 0, Tone.STRONG)
    if cannot:
        yield from look.text(f"To try a slower tempo, or other notes to leave out: {mending}", 0)


def _full(combined: Combined, fingers: int, look: Look) -> Iterator[Line]:
    """Where notes are dropped only because there are too few fingers."""
    if combined.full:
        yield from look.text(
            f"In {words.bar_list(combined.full)} notes were dropped from chords of more than {fingers} notes, only"
            " because such chords have to be rolled. livepedal check --merge with the same tracks judges them with"
            " nothing dropped."
        )


def _dropped(dropped: Sequence[Dropped], look: Look) -> Iterator[Line]:
    if not dropped:
        return
    yield from look.heading("Dropped", f" ({words.counted(len(dropped), 'note')})")
    bars = [(bar, list(notes)) for bar, notes in groupby(dropped, key=lambda note: note.place.bar)]
    for bar, notes in bars[:MOST_ROWS]:
        reasons = []
        for why in Why:
            some = [note for note in notes if note.why is why]
            beats = [
                f"beat {beat} {' '.join(pitch_name(note.pitch, middle_c=look.middle_c) for note in together)}"
                for beat, together in groupby(some, key=lambda note: words.beat(note.place.beat))
            ]
            reasons += [f"{why.value}: {', '.join(beats)}"] if beats else []
        yield from look.text(f"bar {bar}: {'; '.join(reasons)}", 2, hang=2)
    if len(bars) > MOST_ROWS:
        yield from look.faint(f"and in {words.counted(len(bars) - MOST_ROWS, 'more bar')}")
