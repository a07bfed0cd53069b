"""Numbers, places, notes and findings in the words of the field.

Times are integer microseconds everywhere inside; people get bar and beat, with seconds to a hundredth beside
them. In running text a natural has its sign only where another sign of that letter is near; settings have all.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import groupby
from typing import TYPE_CHECKING

from livepedal.advice.judging.groups import Group
from livepedal.advice.judging.report import PartReport
from livepedal.harp import Instrument, Position, Setting, Spelling, pitch_name
from livepedal.model.feet.tunings import Tuned, called
from livepedal.model.findings import Finding, Kind, Layer, Outcome, Passage, Reason, Verdict
from livepedal.model.instead import Instead
from livepedal.model.plan.timing import PedalChange
from livepedal.model.why_hands import clause
from livepedal.music.timemap import Place
from livepedal.music.wording import are as are
from livepedal.music.wording import bar_list as bar_list
from livepedal.music.wording import bar_span as bar_span
from livepedal.music.wording import beat as beat
from livepedal.music.wording import counted as counted
from livepedal.music.wording import listed, place_text, plain, within
from livepedal.music.wording import moment as moment
from livepedal.music.wording import not_all_tried as not_all_tried
from livepedal.music.wording import note_name as note_name
from livepedal.sources.text import clean

if TYPE_CHECKING:
    from livepedal.advice.proofreading.slips import Fault
    from livepedal.advice.report import CheckedPart

LONGEST_MARK = 24
MOST_BARS = 6  # runs of bars that one line names
# Natural, these are on one string only; every other pitch class is on two (harp/strings.py).
_ONE_STRING = "DGA"


def sentence(remark: str) -> str:
    """A remark as a sentence, with one full stop."""
    return f"{clean(remark, 500).rstrip('.')}."


def title(file_name: str, part_name: str) -> str:
    """The title of a report: the file, and the part if it has a name."""
    return f"{file_name}: {clean(part_name)}" if part_name else file_name


def span(us: int) -> str:
    """A length of time (µs), such as "0.21 s"."""
    return f"{us / 1_000_000:.2f} s"


def where(place: Place) -> str:
    """Bar and beat, and how far behind its rehearsal mark: "bar 2, beat 3½ (at mark B)".

    In a later bar "(3 bars after mark B)"; nothing where the music has gone back before the mark, as after D.C.
    """
    text = place_text(place)
    if not place.mark or place.bars_after < 0:
        return text
    far = f"{counted(place.bars_after, 'bar')} after" if place.bars_after else "at"
    return f"{text} ({far} mark {clean(place.mark, LONGEST_MARK)})"


def when(place: Place | None, us: int) -> str:
    """Where and when: "bar 2, beat 3½ (at mark B), 7.35 s"; only the time if the bars are not known."""
    return moment(us) if place is None else f"{where(place)}, {moment(us)}"


def spread(group: Group, place: Callable[[int], Place | None]) -> str:
    """Where a finding is: "bar 2, beat 3½, 7.35 s" for a single attack, else "bars 11 to 17, 54 attacks"."""
    if group.attacks == 1:
        return when(place(group.worst.us), group.worst.us)
    bars = dict.fromkeys(at.bar for finding in group.findings if (at := place(finding.us)) is not None)
    where = bar_list(list(bars), MOST_BARS) if bars else f"from {moment(group.findings[0].us)} on"
    return f"{where}, {counted(group.attacks, 'attack')}"


def reach(passage: Passage, place: Callable[[int], Place | None]) -> str:
    """The bars of a passage, from its first attack to its last: "bar 2", "bars 2 to 5".

    If nobody counts bars, the time until its last key is up: "0.50 s to 4.25 s".
    """
    start, last = place(passage.start), place(passage.last)
    if start is None or last is None:
        return f"{moment(passage.start)} to {moment(passage.end)}"
    return bar_span(start.bar, last.bar)


def changes(number: int) -> str:
    """So many pedal changes."""
    return counted(number, "pedal change") if number else "no pedal changes"


def change_name(change: PedalChange) -> str:
    """The change as a harpist writes it: the letter with its new accidental."""
    return change.pedal.at(change.goal)


# The marks beside a pedal change, and what they mean.
CHANGE_KINDS = {
    "impossible": "there is no time for it",
    "audible": "audible: its string is still sounding",
    "tight": "tight: a relaxed player would not have time",
}
FLAGS = {"impossible": "*", "audible": "~", "tight": "!"}  # after a change, by its kind


OTHERWISE = (
    "Findings look only at what came before them. The pedal changes are planned with the whole part in view, so they"
    " may use other pedals for the same notes."
)


def stuck(part: PartReport) -> str:
    """Whose findings say why, if the verdict is worse than any finding of the chosen player; else ""."""
    mine = max((finding.verdict for finding in part.findings if not finding.audible), default=Verdict.EASY)
    if part.verdict <= max(mine, Verdict.PLAYABLE):
        return ""
    quicker = part.counts[2 if part.verdict is Verdict.UNPLAYABLE else 1]
    if quicker.player == part.player or quicker.outcome is not Outcome.CANNOT:
        return ""
    return f"To see what stops the {clean(quicker.player)} player, add --player {clean(quicker.player)}."


def tunings(tuned: Iterable[Tuned], place: Callable[[int], Place | None]) -> Iterator[str]:
    """How to tune strings without pedals: "tune the lowest D string to D♭", and when, if not before the start."""
    for tuning in tuned:
        if tuning.us is None:
            yield tuning.what
            continue
        at = place(tuning.us)
        yield f"{tuning.what} in the break before {moment(tuning.us) if at is None else f'bar {at.bar}'}"


def set_before(setting: Setting, tuned: Sequence[Tuned]) -> str:
    """A setting, with the strings without pedals: "D♭ C♮ B♭ | E♭ F♮ G♮ A♭, lowest D string D♭"."""
    return ", ".join(text for text in (str(setting), stand(tuned)) if text)


def stand(tuned: Iterable[Tuned]) -> str:
    """How strings without pedals are tuned now, if not as usual: "lowest D string D♭"."""
    last = {tuning.spelling.string: tuning.spelling.position for tuning in tuned}
    return ", ".join(f"{called(string)} {string.pedal.at(position)}" for string, position in last.items())


TOO_MUCH = "too much at once"
IS_TOO_MUCH = f"{TOO_MUCH}: more pedal changes in a passage than a player can keep up with"


def loaded(passages: int) -> str:
    """What a table has under `TOO_MUCH`: "1 passage", "" for none."""
    return counted(passages, "passage") if passages else ""


def change_kind(change: PedalChange) -> str:
    """One of CHANGE_KINDS, or "plain"."""
    if not change.possible:
        return "impossible"
    return "audible" if change.audible else "tight" if change.tight else "plain"


def beside(change: PedalChange, told_us: int) -> str:
    """Before the place where a change is told: "after ", "before " or "". told_us: when that is (µs)."""
    if change.possible and told_us == change.us:
        return ""
    return "before " if told_us > change.us else "after "  # one without time has no moment but its note's


def changes_at(part: PartReport, changes: Iterable[PedalChange]) -> Iterator[str]:
    """Changes of one bar, those of a moment together: "beat 3 C♮ G♯", "after beat 1¼ G♮*", with the signs of kinds."""

    def when(change: PedalChange) -> str:
        told = part.told_at(change)
        return f"{beside(change, told)}beat {beat(part.place(told).beat)}"

    for at, together in groupby(changes, key=when):
        yield f"{at} {' '.join(change_name(one) + FLAGS.get(change_kind(one), '') for one in together)}"


def short(spelling: Spelling) -> str:
    """Letter and accidental without octave."""
    return spelling.string.pedal.at(spelling.position)


MEANING = {
    Verdict.EASY: "a relaxed player can play it",
    Verdict.PLAYABLE: "a working player can play it",
    Verdict.VIRTUOSO: "only a virtuoso can play it",
    Verdict.UNPLAYABLE: "by these figures not even a virtuoso can play it",
}


def judged_for(player: str, instrument: Instrument, middle_c: str) -> str:
    """The player, the harp and how octaves are counted."""
    return (
        f"Judged for the {clean(player)} player on {harp(instrument)}."
        f" Middle C is {middle_c.strip().upper()}."
    )


def only_as(part: CheckedPart) -> str:
    """The given spelling, "as written", where the notes would have a better verdict in another one; else ""."""
    spelling = part.spelling
    return spelling.what if spelling is not None and spelling.best.verdict < part.verdict else ""


def says(part: CheckedPart) -> str:
    """A part's verdict in words, and how much music it is about."""
    text = MEANING[part.verdict].capitalize()
    # The slowest player who can play it, by the counts in the table.
    able = next((count for count in part.counts if count.outcome is not Outcome.CANNOT), None)
    if part.verdict in (Verdict.PLAYABLE, Verdict.VIRTUOSO) and able is not None:
        only = able.player == part.counts[-1].player and part.verdict is Verdict.VIRTUOSO
        who = f"Only a {clean(able.player)}" if only else f"A {clean(able.player)} player"
        text = f"{who} can play it{with_audible(able.audible)}"
        quiet = next((one.player for one in part.counts if one.outcome is Outcome.PLAYS), None)
        if able.audible and quiet is not None:
            text += f"; a {clean(quiet)} player without"
    if part.spelling is not None and (spelled := only_as(part)):
        text = f"{spelled.capitalize()}, {within(text)}; in another spelling, {MEANING[part.spelling.best.verdict]}"
    amount = f"{counted(part.notes, 'note')} in {counted(part.attacks, 'attack')}"
    since = f" from bar {part.place(part.begin).bar} on" if part.begin else ""
    return f"{text}. {amount}{since}, {moment(part.end - part.begin)}."


def with_audible(audible: int) -> str:
    """How many pedal changes are heard: ", with an audible pedal change", or nothing."""
    if not audible:
        return ""
    return ", with an audible pedal change" if audible == 1 else f", with {audible} audible pedal changes"


def what(finding: Finding, middle_c: str) -> str:
    """What is wrong, in one clause, without figures: "A♭4 comes too soon for the pedal G♮→G♯"."""
    return plain(_what(finding, middle_c))


def _what(finding: Finding, middle_c: str) -> str:
    spellings = [r.spelling for r in finding.reasons]
    name = note_name(finding.note, spellings, middle_c)
    for spelling in spellings:
        at_stake = (spelling.string.pedal, spelling.position) == (finding.pedal, finding.goal)
        if at_stake and short(spelling) not in {part[:2] for part in name.split("/")}:
            name += f" (as {short(spelling)})"  # F♮ was played, but E♯ is nearest to possible
    change = ""
    if finding.pedal is not None and finding.start is not None and finding.goal is not None:
        change = f"{finding.pedal.at(finding.start)}→{finding.pedal.at(finding.goal)}"
    match finding.kind:
        case Kind.PEDAL_TIME:
            return f"{name} comes too soon for {'the pedal ' + change if change else 'the feet'}"
        case Kind.AUDIBLE:
            slides = f"the pedal {change}" if change else "one of the pedals for these notes"
            return f"{name}: {slides} moves while its string sounds, an audible slide"
        case Kind.ONE_LETTER:
            others = _together(finding, middle_c)
            return f"{name} cannot be struck together with {others}: no pedal setting has them all"
        case Kind.NO_PEDAL:
            return f"{name}: {finding.reasons[0].why}"
        case Kind.RANGE:
            return f"{name}: this harp has no string for it"
        case _:
            text = clause(finding, middle_c)
            return text[0].upper() + text[1:]


def _together(finding: Finding, middle_c: str) -> str:
    blocking = {pitch for reason in finding.reasons for pitch in reason.other_pitches}
    others = [p for p in finding.pitches if p != finding.note and (not blocking or p in blocking)]
    if not others:
        return "the others"
    return listed([pitch_name(pitch, middle_c=middle_c) for pitch in others])


def harp(instrument: Instrument) -> str:
    """The harp in words: "a 47-string harp", or by the name that somebody's figures give it."""
    if instrument.name.isdecimal():
        return f"a {instrument.name}-string harp"
    return f"the harp “{clean(instrument.name)}”"


def figures(about: Finding | Reason | Fault) -> str:
    """The time needed and the time available, such as "0.23 s needed, 0.15 s available".

    Empty if it is not about time.
    """
    if about.needed is None or about.available is None:
        return ""
    needed, available = span(about.needed), span(about.available)
    if needed == available and about.needed > about.available:
        # A hundredth is too coarse to show the difference.
        needed, available = f"{about.needed / 1_000_000:.3f} s", f"{about.available / 1_000_000:.3f} s"
    return f"{needed} needed, {available} available"


def rate(finding: Finding) -> str:
    """What is needed and what is available: strokes a second for a string that repeats, else times."""
    string = finding.string
    if string is None or string.available <= 0:
        return figures(finding)
    strokes = string.times * 1_000_000
    there, limit = strokes / string.available, strokes / string.needed
    digits = 1 if f"{there:.1f}" != f"{limit:.1f}" else 2
    return f"{there:.{digits}f} a second; the {clean(finding.player)} player's limit is {limit:.{digits}f}"


def in_full(finding: Finding, middle_c: str) -> str:
    """What is wrong, followed by its figures."""
    numbers = rate(finding)
    return what(finding, middle_c) + (f" ({numbers})" if numbers else "")


def with_verdict(finding: Finding, middle_c: str) -> str:
    """The verdict, or "audible", and then the finding in full."""
    return f"{verdict_of(finding)}: {in_full(finding, middle_c)}"


def verdict_of(finding: Finding) -> str:
    """The verdict as a word, or "audible"."""
    return "audible" if finding.audible else finding.verdict.word


_LATER = {1: "a semiquaver", 2: "a quaver", 3: "three semiquavers", 4: "a crotchet"}


def instead(hint: Instead, middle_c: str) -> str:
    """What could be played instead, the least change first; "" where nothing near helps.

    Such as "instead: D5 for D4, or D4 a quaver later, or without D4".
    """

    def name(pitch: int) -> str:
        return pitch_name(pitch, middle_c=middle_c)

    ways = []
    if hint.octave is not None:
        ways.append(f"{name(hint.octave[1])} for {name(hint.octave[0])}")
    if hint.later is not None:
        by = (
            _LATER[round(4 * hint.later / hint.quarter)]
            if hint.quarter
            else f"{hint.later / 1_000_000:.1f} s"
        )
        ways.append(f"{name(hint.note)} {by} later")
    if hint.every:
        ways.append("a rest")
    elif hint.without:
        ways.append(f"without {listed([name(pitch) for pitch in hint.without])}")
    return plain(f"instead: {', or '.join(ways)}") if ways else ""


_BRIEFLY = {
    Kind.PEDAL_TIME: "no pedal time",
    Kind.AUDIBLE: "audible slide",
    Kind.ONE_LETTER: "no setting",
    Kind.RANGE: "out of range",
    Kind.STRING_AGAIN: "too fast",
    Kind.TOO_FAST: "hand too fast",
    Kind.TOO_FAR: "leap too far",
}


def briefly(finding: Finding, middle_c: str) -> str:
    """What is wrong in two to four words, for a ruler: "A2 too fast", "G♯4 no pedal time", "too wide"."""
    what = _BRIEFLY.get(finding.kind, finding.kind.value.replace("-", " "))
    if finding.layer is Layer.HANDS and finding.string is None:
        return what
    if finding.kind is Kind.TOO_MUCH:
        return what
    spellings = [reason.spelling for reason in finding.reasons]
    return plain(f"{note_name(finding.note, spellings, middle_c).split('/')[0]} {what}")


def reason(cause: Reason, with_figures: bool = True) -> str:
    """Why one spelling fails, such as "as G♯: no time for G♮→G♯ after the last G"."""
    text = plain(f"as {short(cause.spelling)}: {cause.why}")
    numbers = figures(cause) if with_figures else ""
    return f"{text} ({numbers})" if numbers else text


def reasons(finding: Finding) -> tuple[str, ...]:
    """Why each spelling fails, one text each; with figures if they differ from those of the finding."""
    if finding.kind is Kind.NO_PEDAL:
        return ()  # there is only one string, and the finding names it
    texts = tuple(
        reason(cause, (cause.needed, cause.available) != (finding.needed, finding.available))
        for cause in finding.reasons
    )
    if len(texts) == 1 and finding.kind in (Kind.PEDAL_TIME, Kind.AUDIBLE, Kind.ONE_LETTER):
        only = finding.reasons[0].spelling
        if only.position is Position.NATURAL and only.string.pedal.letter in _ONE_STRING:
            return (plain(f"{texts[0]}; no other string gives {short(only)}"),)
    return texts
