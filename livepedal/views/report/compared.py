"""A given spelling beside the best one: what each costs, and how they differ."""

from __future__ import annotations

from collections.abc import Iterator

from livepedal.advice.spelling.given import Compared, Cost, Outlook
from livepedal.views import words
from livepedal.views.lines import Line, Tone, line
from livepedal.views.report.look import INDENT, Look, wrapped


def compared_lines(compared: Compared, look: Look) -> Iterator[Line]:
    """The given spelling, the best one, and how they differ."""
    yield line()
    yield line((f"{INDENT}Spelling", Tone.STRONG))
    if compared.notes:
        yield from _table(compared, look)
    else:
        text = "The given spelling names none of the notes here, so livepedal chooses the spelling."
        yield from wrapped(text, look, indent=INDENT * 2)
    for remark in compared.remarks:
        yield from wrapped(words.sentence(remark), look, Tone.FAINT, indent=INDENT * 2)


def _table(compared: Compared, look: Look) -> Iterator[Line]:
    """Both in numbers, how they differ, and remarks on the numbers."""
    head = f"{INDENT * 2}{'':<14}{'verdict':<12}{'unplayable':>12}{'only audible':>14}{'pedal changes':>15}"
    yield line((head, Tone.FAINT))
    # The free spelling is the best one, unless its search was limited.
    free = "left free" if compared.given.cost.order < compared.best.cost.order else "best"
    if free == "best" and compared.best.bounded:
        free = "best found"
    for name, outlook in ((compared.what, compared.given), (free, compared.best)):
        yield line(
            f"{INDENT * 2}{name:<14}{outlook.verdict.word:<12}"
            f"{outlook.unplayable or '-':>12}{outlook.audible or '-':>14}{outlook.changes or '-':>15}"
        )
    difference = _difference(compared)
    yield from wrapped(difference, look, indent=INDENT * 2)
    told = [words.CHANGE_KINDS["tight"]] if "tight" in difference else []
    if compared.given.bounded:
        told.append(words.not_all_tried("pedalling of the given spelling"))
    if compared.best.bounded:
        told.append(words.not_all_tried("spelling"))
    for remark in told:
        yield from wrapped(words.sentence(remark), look, Tone.FAINT, indent=INDENT * 2)


def _difference(compared: Compared) -> str:
    given, best = compared.given, compared.best
    told = _less(given, best)
    kept, doubled = compared.notes - compared.doubled, compared.doubled
    settled = f"{words.counted(kept, 'note')} spelled {compared.what}"
    if doubled:
        moved = "played on another string, because no pedal makes a double sharp or flat"
        settled = f"{settled}, {doubled} {moved}" if kept else f"{words.counted(doubled, 'note')} {moved}"
    if told:
        return (
            f"{settled}. The best spelling has {told}. The report below is for the spelling {compared.what}."
        )
    if given.cost.order < best.cost.order:
        return f"{settled}: {saved(best.cost, given.cost)}. This is better than the spelling that livepedal found."
    if best.bounded:
        return f"{settled}: no better spelling was found."
    return f"{settled}: no other spelling is better."


def _less(given: Outlook, best: Outlook) -> str:
    before, after = given.cost, best.cost
    text = saved(before, after) if after.order < before.order else ""
    if best.verdict < given.verdict:
        text = ", ".join(filter(None, (text, f"and is {best.verdict.word} instead of {given.verdict.word}")))
    return text


def saved(before: Cost, after: Cost) -> str:
    """What `after`, the better of the two, saves, such as "0 tight changes instead of 1"."""
    gains: list[str] = []
    losses: list[str] = []
    for here, there, thing, things in (
        (
            before.unplayable,
            after.unplayable,
            "attack that cannot be played",
            "attacks that cannot be played",
        ),
        (before.audible, after.audible, "audible change", "audible changes"),
        (before.tight, after.tight, "tight change", "tight changes"),
        (before.changes, after.changes, "pedal change", "pedal changes"),
    ):
        if here != there:
            text = f"{there} {thing if there == 1 else things} instead of {here}"
            (gains if there < here else losses).append(text)
    return ", ".join(gains) + (f", at the cost of {', '.join(losses)}" if losses else "")
