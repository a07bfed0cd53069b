"""The report of `check` as text: for each part its verdict, the setting to start with, the changes, the
findings.

It is read by a composer with the score beside it, so everything stands by bar and beat, worst first, and
every note and pedal has its accidental. Names that come from files are made harmless before they are shown
(livepedal.sources.text).
"""

from __future__ import annotations

import shlex
from collections.abc import Iterator, Sequence
from itertools import groupby

from livepedal.advice.judging.groups import Group
from livepedal.advice.judging.report import PartReport
from livepedal.advice.report import CheckedPart, FileReport
from livepedal.advice.summary import Tally
from livepedal.harp import Instrument, Player
from livepedal.model.findings import Layer, Verdict
from livepedal.model.plan.timing import PedalChange
from livepedal.sources.text import clean
from livepedal.views import words
from livepedal.views.lines import Line, Tone, line, tone_of
from livepedal.views.report.asides import aside_lines
from livepedal.views.report.diagram import setting_lines
from livepedal.views.report.look import INDENT, Look, fold, headline, note, wrapped

# Groups of findings that are told one by one, so that the report of any part is a page or two.
MOST_TOLD = 15
MOST_NAMES = 6  # places with other names than the ordinary ones


def opening(player: Player, instrument: Instrument, look: Look, only: Sequence[Layer] = ()) -> Iterator[Line]:
    """The player, the harp and how octaves are counted.

    Args:
        only: the layers, if not all were judged.
    """
    text = words.judged_for(player.name, instrument, look.middle_c)
    if only:
        text += f" Judged here: only {', '.join(layer.value for layer in only)}."
    yield from wrapped(text, look, Tone.FAINT, indent="")


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
        yield headline(part, clean(file.path, 500), look)
        yield from setting_lines(part.plan.setting, look)
        yield from _changes(part, look)


def part_lines(part: CheckedPart, file_name: str, look: Look, remarks: Sequence[str] = ()) -> Iterator[Line]:
    """One part: heading, counts, setting, changes, findings, remarks."""
    yield headline(part, file_name, look)
    yield from wrapped(words.says(part), look)
    yield from _counts(part, look)
    if part.spelling is not None:
        from livepedal.views.report.compared import compared_lines  # few reports have it

        yield from compared_lines(part.spelling, look)
    if part.planned:
        yield from setting_lines(part.plan.setting, look, words.tunings(part.tuned, part.place))
        yield from _changes(part, look)
    yield from _findings(part, look)
    if part.names:
        from livepedal.views.report.names import name_lines

        yield from name_lines(part.names, look, MOST_NAMES)
    if part.printed is not None:
        from livepedal.views.report.printed import printed_lines  # few reports have it

        yield from printed_lines(part.printed, part, look)
    yield from aside_lines(part, look)
    if part.advice is not None:
        from livepedal.views.report.remedies import remedy_lines

        yield from remedy_lines(part.advice, part.time_map, look, part.struck)
    told = (*remarks, *part.notes_below)
    if told:
        yield line()
    for remark in told:
        yield from note(remark, look)


def closing(tally: Tally, player: Player, look: Look, bare: bool = True) -> Iterator[Line]:
    """The summary: how many parts have which verdict, and how many the chosen player can play.

    Args:
        bare: the same command without options would say the same.
    """
    parts = tally.verdicts.total()
    yield ()
    pieces: list[str] = []
    if parts:
        pieces.append(
            f"{words.counted(parts, 'part')} in {words.counted(tally.files - tally.failed, 'file')}: "
            + ", ".join(f"{tally.verdicts[v]} {v.word}" for v in Verdict if tally.verdicts[v])
        )
        who = f"the {player.name} player"
        if parts == 1:
            says = f"{who} cannot play it as it stands" if tally.cannot else f"{who} can play it"
            says += words.heard(tally.heard)
        else:
            says = f"{who} can play {parts - tally.cannot or 'none' if tally.cannot else 'all'} of them"
            says += f", {tally.audible} with audible pedal changes" if tally.audible else ""
        pieces.append(says)
    if tally.in_part:
        breaks = "breaks off and was" if tally.in_part == 1 else "break off and were"
        pieces.append(f"{words.counted(tally.in_part, 'file')} {breaks} only partly read")
    if tally.failed:
        pieces.append(f"{words.counted(tally.failed, 'file')} could not be judged")
    yield from wrapped("; ".join(pieces) + ".", look, Tone.STRONG, indent="")
    if tally.hint:
        command = "the same command with --remedies"
        if bare and not tally.hint.startswith("standard input"):
            command = f"livepedal check --remedies {shlex.quote(clean(tally.hint, 500))}"
        yield from wrapped(f"What would make it playable: {command}", look, indent="")


def _counts(part: PartReport, look: Look) -> Iterator[Line]:
    """A table of the three players; nothing if none of them has any trouble."""
    if not part.troubled:
        return
    attacks = f"of {words.counted(part.attacks, 'attack')}"
    # Too much at once is about passages, not attacks, so it has its own column, if there is any.
    loaded = any(count.too_much for count in part.counts)
    head = f"{INDENT}{attacks:<20}{'unplayable':>12}{'only audible':>14}{'pedal changes':>15}"
    yield _faint(head + (f"{'too much':>10}" if loaded else ""), look)
    for count in part.counts:
        chosen = count.player == part.player
        name = f"{look.signs.chosen if chosen else ' '} {count.player} player"
        numbers = f"{count.unplayable or '-':>12}{count.audible or '-':>14}"
        changes = "" if count.changes is None else f"{count.changes or '-':>15}"
        passages = f"{count.too_much or '-':>10}" if loaded else ""
        tone = Tone.STRONG if chosen else Tone.PLAIN
        yield line((f"{INDENT}{name:<20}{numbers}{changes}{passages}", tone))
    if loaded:
        yield _faint(f"{INDENT * 2}{words.TOO_MUCH}", look)


def _changes(part: CheckedPart, look: Look) -> Iterator[Line]:
    changes = part.plan.changes
    yield line()
    if not changes:
        yield line((f"{INDENT}No pedal changes", Tone.STRONG))
        return
    left, right = part.plan.feet
    yield line(
        (f"{INDENT}Pedal changes", Tone.STRONG),
        (
            f" for the {part.player} player: {len(changes)} (left foot {left}, right foot {right})",
            Tone.FAINT,
        ),
    )
    placed = [(part.place(change.us), change) for change in changes]
    width = max(len(str(place.bar)) for place, _ in placed)
    for bar, group in groupby(placed, key=lambda item: item[0].bar):
        cells = []
        for place, change in group:
            cells.append(f"beat {words.beat(place.beat)} {words.flagged(change)}")
        head = f"{INDENT * 2}bar {bar:>{width}}  "
        yield from wrapped(" · ".join(cells), look, indent=head, hang=len(head))
    yield from flag_lines(changes, look, counted=part.spelling is not None)


def flag_lines(changes: Sequence[PedalChange], look: Look, counted: bool) -> Iterator[Line]:
    """What the signs behind these changes mean, a line for each that there is. counted: it is told how many are
    tight, so that it has to be said how many of these have another sign.
    """
    kinds = [words.change_kind(change) for change in changes]
    both = sum(change.tight for change, kind in zip(changes, kinds, strict=True) if kind == "audible")
    for kind, meaning in words.CHANGE_KINDS.items():
        if kind in kinds:
            more = f"; {both} of them also tight" if counted and both and kind == "audible" else ""
            yield _faint(f"{INDENT * 2}{words.FLAGS[kind]} {meaning}{more}", look)


def _findings(part: PartReport, look: Look) -> Iterator[Line]:
    if not part.findings:
        return
    yield line()
    groups = part.groups
    cannot = not all(group.worst.audible for group in groups)
    audible = any(group.worst.audible for group in groups)
    what = ", or only with an audible pedal change" if cannot and audible else ""
    title = (
        f"What the {part.player} player cannot play{what}"
        if cannot
        else "What can be played only with an audible pedal change"
    )
    yield line((f"{INDENT}{title}{', worst first' if len(groups) > 1 else ''}", Tone.STRONG))
    told = groups if look.every else groups[:MOST_TOLD]
    width = len(str(told[-1].number))
    before = ""
    for group in told:
        why = "; ".join(words.reasons(group.worst))
        # Said once for a row of findings with the same reason.
        yield from _group(group, part, look, width, "" if why == before else why)
        before = why
    yield from _left(groups[len(told) :], part, look)
    stuck = words.stuck(part)
    if stuck:
        yield from wrapped(stuck, look, Tone.FAINT, indent=INDENT * 2)
    if part.otherwise:
        yield from wrapped(words.OTHERWISE, look, Tone.FAINT, indent=INDENT * 2)
    kinds = tuple(dict.fromkeys(group.worst.kind.value for group in groups))
    asked = kinds[0] if len(kinds) == 1 else f"KIND ({', '.join(kinds)})"
    text = (
        f"To see what {'this' if len(kinds) == 1 else 'a'} kind of finding means: livepedal explain {asked}"
    )
    yield from wrapped(text, look, Tone.FAINT, indent=INDENT * 2)


def _group(group: Group, part: PartReport, look: Look, width: int, why: str) -> Iterator[Line]:
    """Where, what and how much in one line, why (where there is something to say) in the next. width: of numbers."""
    finding = group.worst
    # The title must hold for the chosen player: the verdict may be worse because a quicker player is stuck.
    sign = f"{words.FLAGS['audible']} audible" if finding.audible else look.signs.verdict(finding.verdict)
    head = f"{INDENT * 2}{group.number:>{width}} {sign} "
    text = f"{words.spread(group, part)}: {words.what(finding, look.middle_c)}"
    numbers = words.rate(finding)
    if numbers:
        text += f" ({numbers})"
    first = True
    for row in fold(look.signs.write(text), look, len(head), 3 * len(INDENT)):
        yield line((head if first else INDENT * 3, tone_of(finding.verdict)), row)
        first = False
    if group.attacks > 1 and group.findings[0] is not finding:
        worst = f"worst in {words.when(part.place(finding.us), finding.us)}"
        why = f"{worst}; {why}" if why else worst
    if why:
        yield from wrapped(why, look, Tone.FAINT, indent=INDENT * 3)


def _left(groups: Sequence[Group], part: PartReport, look: Look) -> Iterator[Line]:
    """The findings not listed one by one: a line for each kind, with its bars."""
    for kind in dict.fromkeys(group.worst.kind for group in groups):
        some = [group for group in groups if group.worst.kind is kind]
        bars = sorted({part.place(finding.us).bar for group in some for finding in group.findings})
        text = f"and {len(some)} more of the kind {kind.value}: {words.bar_list(bars, words.MOST_BARS)}"
        yield from wrapped(text, look, indent=INDENT * 2)
    if groups:
        yield _faint(f"{INDENT * 2}--all lists each of them", look)


def _faint(text: str, look: Look) -> Line:
    return line((look.signs.write(text), Tone.FAINT))
