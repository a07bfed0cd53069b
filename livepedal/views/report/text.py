"""The report of `check`: for each part its verdict, the setting to start with, the pedal changes, the findings.

It is read by a composer with the score beside it, so everything stands by bar and beat, worst first, and every note
and pedal has its accidental. Names that come from files are made harmless before they are shown
(livepedal.sources.text).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from livepedal.advice.judging.groups import Group
from livepedal.advice.judging.report import PartReport
from livepedal.advice.report import CheckedPart, FileReport
from livepedal.advice.summary import Tally
from livepedal.harp import Instrument, Player
from livepedal.model.findings import Layer, Verdict
from livepedal.model.plan.timing import PedalChange
from livepedal.music.wording import listed
from livepedal.sources.text import clean, shell_line
from livepedal.views import words
from livepedal.views.lines import Line, Tone, tone_of
from livepedal.views.report.asides import aside_texts
from livepedal.views.report.diagram import setting_lines
from livepedal.views.report.look import INDENT, Look

MOST_GROUPS = 15  # of findings that are shown one by one, so that the report of any part is a page or two
MOST_NAMES = 6  # places with other names than the ordinary ones


def opening(player: Player, instrument: Instrument, look: Look, only: Sequence[Layer] = ()) -> Iterator[Line]:
    """The player, the harp, how octaves are counted, and the layers if only some were judged."""
    text = words.judged_for(player.name, instrument, look.middle_c)
    if only:
        layers = [layer.value for layer in only]
        were = "layer was" if len(layers) == 1 else "layers were"
        text += f" Only the {listed(layers)} {were} judged."
    return look.faint(text, 0)


def file_lines(file: FileReport, look: Look) -> Iterator[Line]:
    """One file: its parts; nothing if it could not be judged, because that is an error message."""
    if file.error is not None:
        return
    name = clean(file.path, 500)
    for number, part in enumerate(file.parts):
        yield ()
        yield from part_lines(part, name, look, remarks=file.remarks if number == 0 else ())


def pedal_sheet_lines(file: FileReport, look: Look) -> Iterator[Line]:
    """The pedal sheet of a file: for each part the setting to start with, and the changes by bar."""
    for part in file.parts:
        yield ()
        yield from look.headline(part, clean(file.path, 500), words.only_as(part))
        yield from setting_lines(part.plan.setting, look)
        yield from _changes(part, look)


def part_lines(part: CheckedPart, file_name: str, look: Look, remarks: Sequence[str] = ()) -> Iterator[Line]:
    """One part: heading, counts, setting, changes, findings, remarks."""
    yield from look.headline(part, file_name, words.only_as(part))
    yield from look.text(words.says(part))
    yield from _counts(part, look)
    # What few reports have is imported here, so that the others are there sooner.
    if part.spelling is not None:
        from livepedal.views.report.compared import compared_lines

        yield from compared_lines(part.spelling, look)
    if part.planned:
        yield from setting_lines(part.plan.setting, look, words.tunings(part.tuned, part.place))
        yield from _changes(part, look)
    yield from finding_lines(part, look, f"the {part.player} player")
    yield from _on_findings(part, look)
    if part.names:
        from livepedal.views.report.names import name_lines

        yield from name_lines(part.names, look, MOST_NAMES, " (by the key and the notes around)")
    if part.printed is not None:
        from livepedal.views.report.printed import printed_lines

        yield from printed_lines(part.printed, part, look)
    if part.asides:
        yield from look.heading("Worth knowing")
        for text in aside_texts(part.asides, part.place):
            yield from look.text(text, 2)
    if part.advice is not None:
        from livepedal.views.report.remedies import remedy_lines

        yield from remedy_lines(part, look)
    notes = (*remarks, *part.notes_below)
    if notes:
        yield ()
    for remark in notes:
        yield from look.remark(remark)


def closing(tally: Tally, player: Player, look: Look, bare: bool = True) -> Iterator[Line]:
    """The summary: how many parts have which verdict, and how many the chosen player can play.

    The command that helps on is shown if it needs no options (`bare`).
    """
    parts = tally.verdicts.total()
    yield ()
    clauses: list[str] = []
    who = f"the {player.name} player"
    if parts == 1:
        says = f"{who} cannot play it as it stands" if tally.cannot else f"{who} can play it"
        clauses.append(f"{says}{words.with_audible(tally.audible_changes)}")
    elif parts:
        verdicts = ", ".join(f"{tally.verdicts[v]} {v.word}" for v in Verdict if tally.verdicts[v])
        files = words.counted(tally.files - tally.failed, "file")
        clauses.append(f"{words.counted(parts, 'part')} in {files}: {verdicts}")
        says = f"{who} can play {parts - tally.cannot or 'none' if tally.cannot else 'all'} of them"
        clauses.append(says + (f", {tally.audible} with audible pedal changes" if tally.audible else ""))
    if tally.in_part:
        breaks = "breaks off and was" if tally.in_part == 1 else "break off and were"
        clauses.append(f"{words.counted(tally.in_part, 'file')} {breaks} only partly read")
    if tally.failed:
        clauses.append(f"{words.counted(tally.failed, 'file')} could not be judged")
    text = "; ".join(clauses) + "."
    yield from look.text(text[:1].upper() + text[1:], 0, Tone.STRONG)
    if tally.hint:
        command = "the same command with --remedies"
        if bare and not tally.hint.startswith("standard input"):
            command = f"livepedal check --remedies {shell_line(clean(tally.hint, 500))}"
        yield from look.text(f"What would make it playable: {command}", 0)


def _counts(part: PartReport, look: Look) -> Iterator[Line]:
    """A table of the three players; nothing if none of them has any trouble."""
    if not part.troubled:
        return
    attacks = f"of {words.counted(part.attacks, 'attack')}"
    # Too much at once is about passages, not attacks, so it has a column only where there is any.
    loaded = any(count.too_much for count in part.counts)
    rows = []
    for count in part.counts:
        tone, name = look.chosen(count.player, part.player)
        too_much = words.loaded(count.too_much) if loaded else None
        rows.append((tone, (name, count.unplayable, count.audible, count.changes, too_much)))
    yield from look.table((attacks, "cannot play", "only audibly", "pedal changes", words.TOO_MUCH), rows)
    if loaded:
        yield from look.faint(words.IS_TOO_MUCH)


def _changes(part: CheckedPart, look: Look) -> Iterator[Line]:
    changes = part.plan.changes
    if not changes:
        yield from look.heading("No pedal changes")
        return
    left, right = part.plan.feet
    feet = f"{len(changes)} (left foot {left}, right foot {right})"
    yield from look.heading("Pedal changes", f" for the {part.player} player: {feet}")
    bars = groupby(changes, key=lambda change: part.place_of(change).bar)
    yield from look.bars((bar, text) for bar, some in bars for text in words.changes_at(part, some))
    yield from flag_lines(changes, look, counted=part.spelling is not None)


def flag_lines(changes: Sequence[PedalChange], look: Look, counted: bool) -> Iterator[Line]:
    """What the signs behind these changes mean, a line for each.

    Where the report has `counted` the tight ones, it has to say how many of these have another sign.
    """
    kinds = [words.change_kind(change) for change in changes]
    both = sum(change.tight for change, kind in zip(changes, kinds, strict=True) if kind == "audible")
    for kind, meaning in words.CHANGE_KINDS.items():
        if kind in kinds:
            more = f"; {both} of them also tight" if counted and both and kind == "audible" else ""
            yield from look.faint(f"{words.FLAGS[kind]} {meaning}{more}")


def finding_lines(part: PartReport, look: Look, who: str) -> Iterator[Line]:
    """The findings of a part: where, what and why. who: the one that they are told of, such as "Harp 1"."""
    groups = part.groups
    if not groups:
        return
    cannot = not all(group.worst.audible for group in groups)
    title = "What can be played only with an audible pedal change"
    if cannot:
        audible = any(group.worst.audible for group in groups)
        title = f"What {who} cannot play"
        title += ", or only with an audible pedal change" if audible else ""
    yield from look.heading(f"{title}{', worst first' if len(groups) > 1 else ''}")
    shown = _shown(groups, look)
    width = len(str(shown[-1].number))
    before = ""
    for group in shown:
        why = "; ".join(words.reasons(group.worst))
        # Said once for a row of findings with the same reason.
        yield from _group(group, part, look, width, "" if why == before else why)
        before = why
    yield from _left(groups[len(shown) :], part, look)


def _shown(groups: Sequence[Group], look: Look) -> Sequence[Group]:
    return groups if look.every else groups[:MOST_GROUPS]


def _on_findings(part: PartReport, look: Look) -> Iterator[Line]:
    """Where more is said of the findings, and what they are not."""
    groups = part.groups
    if not groups:
        return
    if len(_shown(groups, look)) < len(groups):
        yield from look.faint("--all shows all of them")
    stuck = words.stuck(part)
    if stuck:
        yield from look.faint(stuck)
    if part.otherwise:
        yield from look.faint(words.OTHERWISE)
    kinds = tuple(dict.fromkeys(group.worst.kind.value for group in groups))
    which, kind = ("this", kinds[0]) if len(kinds) == 1 else ("a", f"KIND ({', '.join(kinds)})")
    yield from look.faint(f"To see what {which} kind of finding means: livepedal explain {kind}")


def _group(group: Group, part: PartReport, look: Look, width: int, why: str) -> Iterator[Line]:
    """Where, what and how much in one line; why, where there is something to say, in the next."""
    finding = group.worst
    # The title must hold for the chosen player: the verdict may be worse because a quicker player is stuck.
    sign = f"{words.FLAGS['audible']} audible" if finding.audible else look.signs.verdict(finding.verdict)
    head = f"{INDENT * 2}{group.number:>{width}} {sign} "
    text = f"{words.spread(group, part.place)}: {words.in_full(finding, look.middle_c)}"
    yield from look.row((head, tone_of(finding.verdict)), text, hang=3 * len(INDENT))
    if group.attacks > 1 and group.findings[0] is not finding:
        worst = f"worst in {words.when(part.place(finding.us), finding.us)}"
        why = f"{worst}; {why}" if why else worst
    if why:
        yield from look.faint(why, 3)


def _left(groups: Sequence[Group], part: PartReport, look: Look) -> Iterator[Line]:
    """The findings not shown one by one: a line for each kind, with its bars."""
    for kind in dict.fromkeys(group.worst.kind for group in groups):
        some = [group for group in groups if group.worst.kind is kind]
        bars = sorted({part.place(finding.us).bar for group in some for finding in group.findings})
        where = words.bar_list(bars, words.MOST_BARS)
        yield from look.text(
            f"and {words.counted(len(some), 'more finding')} of kind {kind.value}: {where}", 2
        )
