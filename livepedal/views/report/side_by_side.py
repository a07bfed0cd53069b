"""Two versions of a part side by side: totals, and the bars where something changed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from livepedal.advice.comparing.bars import BarNote, BarOutlook, BarPair
from livepedal.advice.comparing.compare import Comparison, PartComparison
from livepedal.harp import Position, pitch_name
from livepedal.model.findings import Verdict
from livepedal.music.wording import within
from livepedal.sources.text import clean, shell_line
from livepedal.views import words
from livepedal.views.lines import Line, Tone, line
from livepedal.views.report.look import INDENT, Look

MOST_NOTES = 12  # notes of one bar that are named one by one


def comparison_lines(compared: Comparison, look: Look) -> Iterator[Line]:
    """Both versions, part by part, and what follows from it."""
    for part in compared.parts:
        yield ()
        yield from _part(part, compared, look)
    for name in compared.unmatched:
        yield from look.remark(f"only one of the files has {clean(name)}")
    versions = [part for part in compared.parts if not part.strangers]
    if not versions:
        return  # these are not two versions, so nothing can have helped
    yield ()
    if compared.broken_off:
        text = "A file breaks off, so nobody can tell whether it helped: the bars above are only those that were read."
        yield from look.text(text, 0, Tone.STRONG)
        return
    worse, better = (
        [
            f"{clean(part.name)}: {clause}" if len(versions) > 1 else clause
            for part in versions
            for clause in part.in_short(worse=worse)
        ]
        for worse in (True, False)
    )
    if worse:
        text = f"Something got worse: {'; '.join(worse)}."
    elif better or any(part.better for part in versions):
        text = "It helped, and nothing got worse."
    else:
        text = "Nothing got better or worse."
    if better:
        text += f" Better: {'; '.join(better)}."
    for part in versions:
        if part.percent != 100:
            name = f" of {clean(part.name)}" if len(versions) > 1 else ""
            text += f" The notes{name} are the same, at {part.percent}% of the earlier tempo."
    yield from look.text(text, 0, Tone.STRONG)
    if any(part.after.fails for part in versions) and compared.after != "standard input":
        command = f"livepedal check --remedies {shell_line(clean(compared.after, 500))}"
        yield from look.text(f"What would make it playable: {command}", 0)


def _part(part: PartComparison, compared: Comparison, look: Look) -> Iterator[Line]:
    yield line((look.signs.write(clean(part.name) or "The part"), Tone.STRONG))
    yield from _totals(part, compared, look)
    before, after = part.before.note, part.after.note
    notes = {"Before and after": before} if before == after else {"Before": before, "After": after}
    for name, note in notes.items():
        if note:
            yield from look.remark(f"{name}: {within(note)}")
    if part.strangers:
        text = "Are these two versions of one part? They have hardly a note in common, so their bars are not compared."
        yield from look.text(text, 1, Tone.STRONG)
        return
    shown = [pair for pair in part.bars if not pair.same]
    if not shown:
        yield from look.text("No bar differs.")
        return
    yield ()
    yield from look.faint(f"{'bar':<9}{'before':<15}{'after':<15}{'changes':>8}{'audible':>9}", 1)
    for pair in shown:
        yield from _bar(pair, look)
    same = len(part.bars) - len(shown)
    if same:
        yield from look.faint(f"{words.are(same, 'other bar')} the same in both.", 1)


def _totals(part: PartComparison, compared: Comparison, look: Look) -> Iterator[Line]:
    """A row for each version, and what they are."""
    both = (("before", part.before, compared.before), ("after", part.after, compared.after))
    loaded = any(total.too_much for _, total, _ in both)
    heads = ("", "verdict", "cannot play", "only audibly", "changes", words.TOO_MUCH)
    rows = []
    for name, total, _ in both:
        verdict, too_much = look.signs.verdict(total.verdict), words.loaded(total.too_much) if loaded else None
        rows.append((Tone.PLAIN, (name, verdict, total.unplayable, total.audible, total.changes, too_much)))
    yield from look.table(heads, rows, texts=2)
    if loaded:
        yield from look.faint(words.IS_TOO_MUCH)
    for name, total, path in both:
        time = words.moment(round(total.seconds * 1_000_000))
        text = f"{name}: {clean(path, 200)}, {words.counted(total.notes, 'note')}, {time}"
        yield from look.faint(text, 1)


def _bar(pair: BarPair, look: Look) -> Iterator[Line]:
    before, after = pair.before, pair.after
    numbers = dict.fromkeys(str(bar.bar) for bar in (before, after) if bar is not None)
    state = " new" if before is None else " gone" if after is None else ""
    text = (
        f"{INDENT}{'→'.join(numbers) + state:<9}{_verdict(before, look):<15}{_verdict(after, look):<15}"
        f"{_both(before, after, 'changes'):>8}{_both(before, after, 'audible'):>9}"
    )
    yield line((look.signs.write(text), Tone.UNPLAYABLE if pair.worse else Tone.PLAIN))
    for difference in _notes(pair, look):
        yield from look.row(" " * 11, difference, Tone.FAINT, hang=13)


def _verdict(bar: BarOutlook | None, look: Look) -> str:
    return "-" if bar is None or bar.verdict is None else look.signs.verdict(Verdict(bar.verdict))


def _both(before: BarOutlook | None, after: BarOutlook | None, what: str) -> str:
    was = 0 if before is None else getattr(before, what)
    now = 0 if after is None else getattr(after, what)
    return f"{was or '-'}" if was == now else f"{was}→{now}"


def _notes(pair: BarPair, look: Look) -> Iterator[str]:
    if pair.dropped and pair.after is not None:
        yield f"dropped {_named(pair.dropped, pair.before, look)}"
    if pair.added and pair.before is not None:
        yield f"added {_named(pair.added, pair.after, look)}"
    if pair.respelt:
        moved = ((was.named(look.middle_c), now.named(look.middle_c)) for _, was, now in pair.respelt)
        names = list(dict.fromkeys(f"{was}→{now}" for was, now in moved))
        yield f"respelled {', '.join(names[:6])}{', …' if len(names) > 6 else ''}"


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
