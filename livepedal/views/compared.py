"""A given spelling beside the best one: what each costs, and what lies between them."""

from __future__ import annotations

from collections.abc import Iterator

from livepedal.advice.given import Compared, Cost, Outlook
from livepedal.views import words
from livepedal.views.lines import Line, Tone, line
from livepedal.views.look import INDENT, Look, wrapped


def compared_lines(compared: Compared, look: Look) -> Iterator[Line]:
    """The spelling that was given, the best one, and what lies between them."""
    yield line()
    yield line((f"{INDENT}Spelling", Tone.STRONG))
    head = f"{INDENT * 2}{'':<14}{'verdict':<12}{'unplayable':>12}{'only audible':>14}{'pedal changes':>15}"
    yield line((head, Tone.FAINT))
    # What is left free is the best, unless its search was bounded and missed what was asked for.
    free = "left free" if compared.given.cost.order < compared.best.cost.order else "best"
    for name, outlook in ((compared.what, compared.given), (free, compared.best)):
        yield line(
            f"{INDENT * 2}{name:<14}{outlook.verdict.word:<12}"
            f"{outlook.unplayable or '-':>12}{outlook.audible or '-':>14}{outlook.changes or '-':>15}"
        )
    yield from wrapped(_difference(compared), look, indent=INDENT * 2)
    for remark in compared.remarks:
        yield from wrapped(words.sentence(remark), look, Tone.FAINT, indent=INDENT * 2)


def _difference(compared: Compared) -> str:
    given, best = compared.given, compared.best
    told = _less(given, best)
    settled = f"{words.counted(compared.notes, 'note')} spelled {compared.what}"
    if told:
        return (
            f"{settled}; left free, there would be {told}. What follows is for the spelling {compared.what}."
        )
    if given.cost.order < best.cost.order:
        return (
            f"{settled}: {saved(best.cost, given.cost)}. So this spelling is the better one;"
            " the search for the best is bounded, and did not come upon it."
        )
    return f"{settled}: nothing would be gained by another spelling."


def _less(given: Outlook, best: Outlook) -> str:
    before, after = given.cost, best.cost
    text = saved(before, after) if after.order < before.order else ""
    if best.verdict < given.verdict:
        text = ", ".join(
            filter(None, (text, f"and it would be {best.verdict.word} instead of {given.verdict.word}"))
        )
    return text


def saved(before: Cost, after: Cost) -> str:
    """What `after`, the better of the two, saves: such as "1 pedal change instead of 5"."""
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
            text = f"{there or 'no'} {thing if there == 1 else things} instead of {here or 'none'}"
            (gains if there < here else losses).append(text)
    return ", ".join(gains) + (f", at the cost of {', '.join(losses)}" if losses else "")
