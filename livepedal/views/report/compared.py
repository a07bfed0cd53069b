"""A given spelling beside the best one: what each costs, and how they differ."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from livepedal.advice.spelling.given import Compared, Cost
from livepedal.views import words
from livepedal.views.lines import Line, Tone
from livepedal.views.report.look import Look


def compared_lines(compared: Compared, look: Look) -> Iterator[Line]:
    """The given spelling, the best one, and how they differ."""
    yield from look.heading("Spelling")
    if compared.notes:
        yield from _table(compared, look)
    else:
        text = "The given spelling names none of the notes here, so livepedal chooses the spelling."
        yield from look.text(text, 2)
    for remark in compared.remarks:
        yield from look.faint(words.sentence(remark))


def _table(compared: Compared, look: Look) -> Iterator[Line]:
    """Both in numbers, how they differ, and remarks on the numbers."""
    given, best = compared.given, compared.best
    # The free spelling is the best one, unless its search was limited.
    free = "left free" if given.order < best.order else "best found" if best.bounded else "best"
    rows = [
        (Tone.PLAIN, (name, cost.verdict.word, cost.unplayable, cost.audible, cost.changes))
        for name, cost in ((compared.what, given), (free, best))
    ]
    heads = ("", "verdict", "cannot play", "only audibly", "pedal changes")
    yield from look.table(heads, rows, texts=2, level=2)
    difference = _difference(compared)
    yield from look.text(difference, 2)
    tried = ["pedalling of the given spelling"] if given.bounded else []
    yield from cautions(difference, [*tried, "spelling"] if best.bounded else tried, look)


def cautions(said: str, tried: Iterable[str], look: Look) -> Iterator[Line]:
    """What "tight" means, where that was said, and of what not all was tried."""
    tight = [words.CHANGE_KINDS["tight"]] if "tight" in said else []
    missed = " and not every ".join(tried)
    for remark in (*tight, *([words.not_all_tried(missed)] if missed else [])):
        yield from look.faint(words.sentence(remark))


def _difference(compared: Compared) -> str:
    given, best = compared.given, compared.best
    kept, doubled = compared.notes - compared.doubled, compared.doubled
    done = f"{words.counted(kept, 'note')} spelled {compared.what}"
    if doubled:
        moved = "played on another string, because no pedal makes a double sharp or flat"
        done = f"{done}, {doubled} {moved}" if kept else f"{words.counted(doubled, 'note')} {moved}"
    gains = [saved(given, best)] if best.order < given.order else []
    if best.verdict < given.verdict:
        gains.append(f"is {best.verdict.word} instead of {given.verdict.word}")
    if gains:
        gain = ", and ".join(gains)
        has = "has " if best.order < given.order else ""
        return f"{done}. The best spelling {has}{gain}. The report below is for the spelling {compared.what}."
    if given.order < best.order:
        return f"{done}: {saved(best, given)}. This is better than the spelling that livepedal found."
    if best.bounded:
        return f"{done}: no better spelling was found."
    return f"{done}: no other spelling is better."


def saved(before: Cost, after: Cost) -> str:
    """What `after`, the better of the two, saves, such as "0 instead of 1 tight change"."""
    gains: list[str] = []
    losses: list[str] = []
    for was, now, thing, rest in (
        (before.unplayable, after.unplayable, "attack", " that cannot be played"),
        (before.audible, after.audible, "audible change", ""),
        (before.tight, after.tight, "tight change", ""),
        (before.changes, after.changes, "pedal change", ""),
    ):
        if was != now:
            (gains if now < was else losses).append(f"{now} instead of {words.counted(was, thing)}{rest}")
    return ", ".join(gains) + (f", at the cost of {', '.join(losses)}" if losses else "")
