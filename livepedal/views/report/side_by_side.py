"""Two versions of a part side by side: totals, and the bars where something changed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from livepedal.advice.comparing.compare import BarNote, BarOutlook, BarPair, Comparison, PartComparison, Total
from livepedal.harp import Position, pitch_name
from livepedal.model.findings import Verdict
from livepedal.music.wording import within
from livepedal.sources.text import clean
from livepedal.views import words
from livepedal.views.lines import Line, Tone, line
from livepedal.views.report.look import INDENT, Look, note, wrapped

MOST_NOTES = 12  # notes of one bar that are named one by one
# Columns of the totals after the verdict: unplayable, only audible, changes, notes, time, and too much.
WITHOUT_LOAD = (11, 14, 9, 7, 10)
WITH_LOAD = (11, 13, 8, 7, 9, 10)  # a row of 80 in all


def comparison_lines(compared: Comparison, look: Look) -> Iterator[Line]:
    """Both versions, part by part, and what follows from it."""
    for part in compared.parts:
        yield ()
        yield from _part(part, compared, look)
    for name in compared.unmatched:
        yield from wrapped(f"Note: only one of the files has {clean(name)}.", look, Tone.FAINT)
    versions = [part for part in compared.parts if not part.strangers]
    if not versions:
        return  # these are not two versions, so nothing can have helped
    yield ()
    worse, better = (
        [
            f"{clean(part.name)}: {clause}" if len(versions) > 1 else clause
            for part in versions
            for clause in part.in_short(worse=worse)
        ]
        for worse in (True, False)
    )
    if worse:
        told = f"Something got worse: {'; '.join(worse)}."
    elif better or any(part.better for part in versions):
        told = "It helped, and nothing got worse."
    else:
        told = "Nothing got better or worse."
    if better:
        told += f" Better: {'; '.join(better)}."
    yield from wrapped(told, look, Tone.STRONG, indent="")


def _part(part: PartComparison, compared: Comparison, look: Look) -> Iterator[Line]:
    write = look.signs.write
    yield line((write(clean(part.name) or "The part"), Tone.STRONG))
    # Too much at once has a column only if there is any; the others make room for it.
    loaded = bool(part.before.too_much or part.after.too_much)
    heads = ("verdict", "unplayable", "only audible", "changes", "notes", "time", "too much")
    yield line((_row("", heads, loaded), Tone.FAINT))
    for name, total in (("before", part.before), ("after", part.after)):
        yield line(write(_row(name, _cells(total, look), loaded)))
    if loaded:
        yield line((f"{INDENT * 2}{words.TOO_MUCH}", Tone.FAINT))
    yield from wrapped(
        f"before: {clean(compared.before, 200)}; after: {clean(compared.after, 200)}", look, Tone.FAINT
    )
    yield from _bounded(part, look)
    if part.strangers:
        yield from wrapped(
            "Are these two versions of one part? They have hardly a note in common, so their bars are not compared.",
            look,
            Tone.STRONG,
        )
        return
    shown = [pair for pair in part.bars if not pair.same]
    if not shown:
        yield from wrapped("No bar differs.", look)
        return
    yield line()
    head = f"{INDENT}{'bar':<9}{'before':<15}{'after':<15}{'changes':>8}{'audible':>9}"
    yield line((head.rstrip(), Tone.FAINT))
    for pair in shown:
        yield from _bar(pair, look)
    same = len(part.bars) - len(shown)
    if same:
        bars = "1 other bar is" if same == 1 else f"{same} other bars are"
        yield from wrapped(f"{bars} the same in both.", look, Tone.FAINT)


def _bounded(part: PartComparison, look: Look) -> Iterator[Line]:
    """The remark on the search for the pedal changes, for each version or for both together."""
    before, after = part.before.note, part.after.note
    if before and before == after:
        yield from note(f"Before and after: {within(before)}", look)
        return
    for name, told in (("Before", before), ("After", after)):
        if told:
            yield from note(f"{name}: {within(told)}", look)


def _row(name: str, cells: Sequence[str], loaded: bool) -> str:
    """A row of the totals; without its last cell where no version has too much at once."""
    verdict, *numbers = cells
    head, columns = ((7, 13), WITH_LOAD) if loaded else ((8, 14), WITHOUT_LOAD)
    row = "".join(f"{cell:>{column}}" for cell, column in zip(numbers, columns, strict=False))
    return f"{INDENT}{name:<{head[0]}}{verdict:<{head[1]}}{row}"


def _cells(total: Total, look: Look) -> tuple[str, ...]:
    verdict = look.signs.verdict(total.verdict)
    counts = (total.unplayable, total.audible, total.changes)
    unplayable, audible, changes, heavy = (str(count or "-") for count in (*counts, total.too_much))
    time = words.moment(round(total.seconds * 1_000_000))
    return verdict, unplayable, audible, changes, str(total.notes), time, heavy


def _bar(pair: BarPair, look: Look) -> Iterator[Line]:
    before, after = pair.before, pair.after
    numbers = [str(bar.bar) for bar in (before, after) if bar is not None]
    bar = numbers[0] if len(set(numbers)) == 1 else ">".join(numbers)
    if before is None:
        bar = f"+{bar}"
    elif after is None:
        bar = f"-{bar}"
    text = (
        f"{INDENT}{bar:<9}{_verdict(before, look):<15}{_verdict(after, look):<15}"
        f"{_both(before, after, 'changes'):>8}{_both(before, after, 'audible'):>9}"
    )
    yield line((look.signs.write(text), Tone.UNPLAYABLE if pair.worse else Tone.PLAIN))
    for told in _notes(pair, look):
        yield from wrapped(told, look, Tone.FAINT, indent=" " * 11, hang=13)


def _verdict(bar: BarOutlook | None, look: Look) -> str:
    if bar is None or bar.verdict is None:
        return "-"
    return look.signs.verdict(Verdict(bar.verdict))


def _both(before: BarOutlook | None, after: BarOutlook | None, what: str) -> str:
    was = 0 if before is None else getattr(before, what)
    now = 0 if after is None else getattr(after, what)
    return f"{was or '-'}" if was == now else f"{was}→{now}"


def _notes(pair: BarPair, look: Look) -> list[str]:
    texts = []
    if pair.dropped and pair.after is not None:
        texts.append(f"without {_named(pair.dropped, pair.before, look)}")
    if pair.added and pair.before is not None:
        texts.append(f"with {_named(pair.added, pair.after, look)}")
    if pair.respelt:
        moved = ((was.named(look.middle_c), now.named(look.middle_c)) for _, was, now in pair.respelt)
        names = list(dict.fromkeys(f"{was}→{now}" for was, now in moved))
        texts.append(f"respelt {', '.join(names[:6])}{', …' if len(names) > 6 else ''}")
    return texts


def _named(notes: Sequence[BarNote], bar: BarOutlook | None, look: Look) -> str:
    """The notes of a bar with their beats, named as the plan of that version spells them."""
    if len(notes) > MOST_NOTES:
        return words.counted(len(notes), "note")
    texts = []
    for beat, group in groupby(notes, key=lambda note: note[0]):
        names = " ".join(_name(note, bar, look) for note in group)
        texts.append(f"{names} (beat {words.beat(beat)})")
    return ", ".join(texts)


def _name(note: BarNote, bar: BarOutlook | None, look: Look) -> str:
    """A note as the plan spells it; by both its names where it does not: "G♯4/A♭4"."""
    spelling = None if bar is None else bar.spelled.get(note)
    if spelling is not None:
        return spelling.named(look.middle_c)
    names = (pitch_name(note[1], hint, look.middle_c) for hint in (Position.SHARP, Position.FLAT))
    return "/".join(dict.fromkeys(names))
