"""The spelling sheet as text that an engraver can paste.

One paragraph a bar: the beat, a colon, the notes that begin in that beat as the harp plays them; notes struck
together stand in parentheses. The pedal changes stand in a row of their own underneath, and the setting before the bar
with a rehearsal mark.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from livepedal.advice.spelling.given import Cost
from livepedal.advice.spelling.keys import Proposal
from livepedal.advice.spelling.sheet import Sheet, SheetAttack, SheetBar
from livepedal.harp import Player, Position, pitch_name
from livepedal.model.findings import Outcome, Verdict
from livepedal.sources.text import clean
from livepedal.views import words
from livepedal.views.lines import Line, Tone
from livepedal.views.report.compared import cautions, saved
from livepedal.views.report.diagram import setting_lines
from livepedal.views.report.look import INDENT, Look
from livepedal.views.report.names import name_lines
from livepedal.views.report.text import flag_lines

FLAT = Position.FLAT.sign


def sheet_lines(sheet: Sheet, file_name: str, look: Look) -> Iterator[Line]:
    """The whole sheet of one part."""
    part = sheet.report
    yield ()
    yield from look.headline(part, file_name)
    if part.verdict is Verdict.UNPLAYABLE or part.outcome is Outcome.CANNOT:
        yield from look.text(
            f"The {part.player} player cannot play it as it stands; livepedal check says where and why."
            " The spelling below has the fewest faults of those that were tried."
        )
    # A warning that not every spelling was tried, before anybody writes it out.
    if part.not_the_best:
        yield from look.remark(part.not_the_best)
    elif sheet.plain is not None and sheet.plain.order < sheet.cost.order:
        yield from look.remark(
            "Ordinary spelling needs less than this one (see below): not every spelling was tried"
        )
    elif part.plan.bounded:
        yield from look.remark(words.not_all_tried("spelling"))
    yield from setting_lines(part.plan.setting, look, words.tunings(part.tuned, part.place))
    how = f" (beat: notes; together in parentheses; middle C is {look.middle_c})"
    yield from look.heading("Note by note", how)
    yield from _bars(sheet, look)
    yield from flag_lines(part.plan.changes, look, counted=True)
    if any(None in spellings for spellings in part.plan.spellings):
        yield from look.faint(
            "? left out: this harp has no string for it, or no pedal setting has it together with the others"
        )
    if sheet.departures:
        yield from name_lines(sheet.departures, look)
    else:
        yield from look.heading("Every note has its ordinary name")
    yield from look.faint(_signatures(sheet))
    yield from _proposed(sheet, look)
    for remark in (*sheet.remarks, *part.remarks):
        if remark != part.not_the_best:  # which stands at the top
            yield from look.remark(remark)


def _bars(sheet: Sheet, look: Look) -> Iterator[Line]:
    width = max((len(str(bar.number)) for bar in sheet.bars), default=1)
    marks = list(sheet.standings)
    for bar in sheet.bars:
        while marks and marks[0].bar <= bar.number:
            mark = marks.pop(0)
            text = f"rehearsal mark {clean(mark.mark, words.LONGEST_MARK)}, bar {mark.bar}: {mark.setting}"
            yield from look.text(text, 2, Tone.STRONG)
        head = f"{INDENT * 2}bar {bar.number:>{width}}  "
        beats = [
            f"{beat}: {' '.join(_attack(attack, look) for attack in group)}"
            for beat, group in groupby(bar.attacks, key=lambda attack: _beat(attack, bar))
        ]
        yield from look.row(head, "  ".join(beats) or "-")
        if bar.changes:
            changes = ", ".join(words.changes_at(sheet.report, (item.change for item in bar.changes)))
            yield from look.row(" " * len(head), f"pedals: {changes}", Tone.FREE, hang=len(head) + 8)


def _beat(attack: SheetAttack, bar: SheetBar) -> int:
    """The beat that an attack begins in; one just before its bar counts as at its start."""
    return int(attack.place.beat) if attack.place.bar == bar.number else 1


def _attack(attack: SheetAttack, look: Look) -> str:
    names = [
        pitch_name(note.pitch, middle_c=look.middle_c) + "?"
        if note.spelling is None
        else note.spelling.named(look.middle_c)
        for note in attack.notes
    ]
    return names[0] if len(names) == 1 else f"({' '.join(names)})"


def _signatures(sheet: Sheet) -> str:
    """Which key signatures the ordinary names go by."""
    if not sheet.keys:
        return "There is no key signature, so the ordinary names go by the notes around alone."
    named = [key.name if n == 0 else f"{key.name} from bar {bar}" for n, (bar, key) in enumerate(sheet.keys)]
    return f"The ordinary names go by the key ({', '.join(named)}) and the notes around."


def _proposed(sheet: Sheet, look: Look) -> Iterator[Line]:
    plain, proposal = sheet.plain, sheet.proposal
    if plain is None:
        return
    texts = []
    if proposal is None:
        yield ()
    else:
        # The spelling above is chosen note by note, so it may be better than either key.
        against = ", but less than the spelling above" if sheet.cost.order < proposal.after.order else ""
        yield from look.heading(f"Another written key saves work{against}")
        texts.append(_proposal(proposal))
    if sheet.departures:
        texts += _ordinary(sheet, plain)
    for text in texts:
        yield from look.text(text, 2)
    tried = ["ordinary spelling"] if texts and plain.bounded else []
    if proposal is not None and proposal.after.bounded:
        tried.append("spelling in the other key")
    yield from cautions(" ".join(texts), tried, look)


def _ordinary(sheet: Sheet, plain: Cost) -> Iterator[str]:
    """How the sheet's spelling and the ordinary one compare, unless the proposal of another key says enough."""
    cost = sheet.cost
    if cost.order < plain.order:
        yield f"Compared with ordinary spelling throughout, the spelling above has {saved(plain, cost)}."
    elif plain.order < cost.order:
        yield (
            f"Ordinary spelling takes less: {saved(cost, plain)}. To judge another spelling:"
            ' livepedal check --spell "1-4: Eb major" FILE (your bars and key).'
        )
    elif sheet.proposal is None:
        yield f"Ordinary spelling takes no more.{_why_flats(sheet)}"


def _why_flats(sheet: Sheet) -> str:
    """A sentence on flats that stand for another name; "" where none does.

    A double sharp or flat has to be named otherwise anyhow.
    """
    gained = [
        FLAT in harp and FLAT not in ordinary
        for departure in sheet.departures
        for ordinary, harp, _ in departure.names
        if ordinary not in departure.doubles
    ]
    if not any(gained):
        return ""
    which = "The flats are" if all(gained) else "Flats that replace another name are"
    source = "Berlioz, Grand traité d'instrumentation, p. 86"
    return f" {which} for the sound: a string sounds fuller the less it is stopped ({source})."


def _proposal(proposal: Proposal) -> str:
    keys = "; ".join(
        f"{words.bar_span(rewriting.first_bar, rewriting.last_bar)} in {rewriting.text[1]}"
        f" instead of {rewriting.text[0]}"
        + (" (no key signature shows it: write the accidentals)" if abs(rewriting.other) > 7 else "")
        for rewriting in proposal.rewritings
    )
    return f"{keys[:1].upper()}{keys[1:]}, otherwise in ordinary spelling: {saved(proposal.before, proposal.after)}."


def closing(player: Player, look: Look) -> Iterator[Line]:
    """What the sheet is for."""
    yield ()
    yield from look.faint(
        f"Spelled for the {player.name} player. Write the notes as they are named here: harpists want each note"
        " named for the string that they play.",
        0,
    )
