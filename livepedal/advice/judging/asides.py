"""Worth knowing, and no fault: what a player will do about it, or what will be heard.

- What the hands only just manage (model/hands/).
- A chord too wide or too full to take at once, with time to roll it (model/hands/grips.py).
- The right hand low in the bass (figures.toml, [hands]).
- Wire strings in quick succession, which blur, and the lowest ones, which buzz (figures.toml, [hands]).
- A pedal that moves while its letter still rings in some octave (model/ringing_remarks.py).
- Figurations (model/hands/figurations.py): a glissando with the setting it needs, a tremolo, a trill, an arpeggio.
- A quick run one way that is no glissando, with the setting that comes nearest and the notes that it leaves out
  (model/hands/glissando.py).
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import pairwise

from livepedal.advice.judging.basis import Basis
from livepedal.harp import Figures, Player, Setting, Spelling, pitch_name
from livepedal.model.hands import Figuration, FigurationKind, Share
from livepedal.model.hands.nearest_setting import nearest_glissando
from livepedal.model.monitor import BareMonitor
from livepedal.model.plan.planner import Plan
from livepedal.model.ringing_remarks import smears
from livepedal.music.attacks import Attack
from livepedal.music.wording import plain


class AsideKind(StrEnum):
    """What kind of thing an aside is. The words stand in the JSON."""

    ROLLED = "rolled"
    RIGHT_LOW = "right-hand-low"
    JUST = "just"
    WIRE = "wire-strings"
    BUZZ = "wire-strings-buzz"
    SMEAR = "smear"
    GLISSANDO = "glissando"
    TREMOLO = "tremolo"
    TRILL = "trill"
    ARPEGGIO = "arpeggio"
    NO_GLISSANDO = "no-glissando"


SAID = {
    FigurationKind.TREMOLO: "a tremolo (bisbigliando), both hands in turn",
    FigurationKind.TRILL: "a trill shared by both hands",
    FigurationKind.ARPEGGIO: "an arpeggio shared by both hands",
}
SECOND = 1_000_000  # µs
STROKES = {FigurationKind.TREMOLO: "strokes", FigurationKind.TRILL: "notes", FigurationKind.ARPEGGIO: "notes"}


@dataclass(frozen=True, slots=True)
class Aside:
    """One thing worth knowing.

    Attributes:
        us: where (µs).
        pitches: the notes (MIDI) that it is about.
        what: one clause.
        settings: those that a glissando can be played in.
        end: where a stretch ends (µs).
        per_second: its strokes a second.
    """

    kind: AsideKind
    us: int
    pitches: tuple[int, ...]
    what: str
    settings: tuple[Setting, ...] = ()
    end: int | None = None
    per_second: float = 0.0


def asides_of(
    monitor: BareMonitor,
    onsets: Callable[[], Iterable[Attack]],
    plan: Plan,
    basis: Basis,
    damped: Collection[tuple[int, int]] = (),
) -> tuple[Aside, ...]:
    """All asides of a part, in order of time.

    Args:
        monitor: to which all of it was played.
        onsets: the notes as they were struck, before any were gathered.
        plan: its pedalling for the chosen player.
        basis: what it is judged on.
        damped: notes (µs, pitch) whose strings do not ring on.
    """
    figures, player, played = basis.figures, basis.chosen, monitor.figurations
    just = "only just playable for the hands"
    found = [
        *(Aside(AsideKind.JUST, one.us, one.pitches, just) for one in monitor.record.just),
        *_of_hands(monitor.shares, figures),
        *_of_wire(played, onsets(), player, figures),
        *_of_strings(plan, figures, damped),
        *_of_figurations(played, figures),
        *_of_runs(played, onsets(), player, figures),
    ]
    return tuple(sorted(found, key=lambda aside: aside.us))


def setting_for_glissandi(setting: Setting, asides: Sequence[Aside]) -> Setting:
    """A starting setting, its free letters set as the first glissando wants them.

    Every string that a glissando goes over sounds, whether its note was played or not.
    """
    first = next((aside for aside in asides if aside.settings), None)
    if first is None:
        return setting
    fitting = [one for one in first.settings if _agree(setting, one)]
    if not fitting:
        return setting
    return Setting(
        tuple(
            other if mine is None else mine
            for mine, other in zip(setting.positions, fitting[0].positions, strict=True)
        )
    )


def as_the_pedals_stand(asides: Sequence[Aside], plan: Plan) -> tuple[Aside, ...]:
    """The asides; those on glissandi say where the plan has the pedals set differently.

    A verdict goes by the notes that are struck, and does not require a glissando.
    """
    found = []
    for aside in asides:
        if aside.kind is AsideKind.GLISSANDO:
            stands = plan.setting
            for change in plan.changes:
                if change.us <= aside.us:
                    stands = stands.replace(change.pedal, change.goal)
            if not any(_agree(stands, one) for one in aside.settings):
                what = f"possible as {aside.what}, but the pedals are set differently here"
                aside = replace(aside, what=what)
        found.append(aside)
    return tuple(found)


def _agree(setting: Setting, other: Setting) -> bool:
    """Whether no pedal is wanted in two positions."""
    return all(
        mine is None or theirs is None or mine is theirs
        for mine, theirs in zip(setting.positions, other.positions, strict=True)
    )


def _of_hands(shares: Sequence[Share], figures: Figures) -> Iterator[Aside]:
    low = figures.hands.right_low.natural
    for share in shares:
        notes = tuple(sorted({*share.left, *share.right}))
        if share.rolled and share.possible:
            yield Aside(
                AsideKind.ROLLED, share.us, notes, "too wide or too full to play at once, so it is rolled"
            )
        if share.right and share.right[0] < low:
            what = f"the right hand plays below {figures.hands.right_low.name}"
            yield Aside(AsideKind.RIGHT_LOW, share.us, share.right, what)


def _of_wire(
    played: Sequence[Figuration], onsets: Iterable[Attack], player: Player, figures: Figures
) -> Iterator[Aside]:
    """Stretches with more strokes on wire strings in a second than are heard clearly.

    A glissando is left out: it is meant to blur.
    """
    highest, clear = figures.hands.wire.natural, player.wire_strokes
    glissandi = [one for one in played if one.kind is FigurationKind.GLISSANDO and gets_remark(one, figures)]
    strokes = [
        (onset.us, low)
        for onset in onsets
        if (low := tuple(pitch for pitch in onset.pitches if pitch <= highest))
        and not any(figuration.start <= onset.us <= figuration.end for figuration in glissandi)
    ]
    stretches: list[tuple[int, int]] = []  # the numbers of their first and last strokes
    for first in range(len(strokes) - clear):
        last = first + clear
        if strokes[last][0] - strokes[first][0] < SECOND:
            if stretches and first <= stretches[-1][1]:
                stretches[-1] = stretches[-1][0], last
            else:
                stretches.append((first, last))
    for first, last in stretches:
        some = strokes[first : last + 1]
        start, end = some[0][0], some[-1][0]
        buzzes = any(
            pitch in low and pitch <= figures.hands.buzzing.natural
            for (_, low), (_, after) in pairwise(some)
            for pitch in after
        )
        rate = (last - first) * SECOND / (end - start)
        sound = "blur and buzz" if buzzes else "blur"
        kind = AsideKind.BUZZ if buzzes else AsideKind.WIRE
        what = f"low wire strings {sound} at this speed, {rate:.1f} strokes a second"
        notes = tuple(sorted({pitch for _, low in some for pitch in low}))
        yield Aside(kind, start, notes, what, end=end, per_second=rate)


def _of_strings(plan: Plan, figures: Figures, damped: Collection[tuple[int, int]]) -> Iterator[Aside]:
    plucks = (
        (us, spelling)
        for us, spellings in zip(plan.attacks, plan.spellings, strict=True)
        for spelling in spellings
        if spelling is not None
    )
    changes = ((change.us, change.pedal) for change in plan.changes if not change.audible)
    for smear in smears(plucks, changes, figures.ringing, figures.smear, damped):
        name = Spelling(smear.string, smear.position).name
        what = plain(f"{name} still rings while its pedal moves: a {smear.grade.value} slide")
        yield Aside(AsideKind.SMEAR, smear.us, (), what)


def _of_figurations(played: Sequence[Figuration], figures: Figures) -> Iterator[Aside]:
    """Figures that are quick enough to be one for whoever listens; voices of one glissando are one."""
    glissandi: list[list[Figuration]] = []
    for figuration in played:
        if not gets_remark(figuration, figures):
            continue
        if figuration.kind is not FigurationKind.GLISSANDO:
            what = f"{SAID[figuration.kind]}, {figuration.per_second:.0f} {STROKES[figuration.kind]} a second"
            yield Aside(AsideKind(figuration.kind.value), figuration.start, figuration.pitches, what)
        elif glissandi and figuration.start < glissandi[-1][0].end:
            glissandi[-1].append(figuration)
        else:
            glissandi.append([figuration])
    for voices in glissandi:
        first = voices[0]
        settings = tuple(
            one for one in first.settings if all(any(_agree(one, o) for o in v.settings) for v in voices)
        )
        settings = settings or first.settings
        several = f", one of {len(settings)} settings that work" if len(settings) > 1 else ""
        many = f" in {len(voices)} voices" if len(voices) > 1 else ""
        what = f"a glissando{many} (set {settings[0]}{several})"
        yield Aside(AsideKind.GLISSANDO, first.start, first.pitches, what, settings)


def gets_remark(figuration: Figuration, figures: Figures) -> bool:
    """Whether a figuration gets a remark: slow ones are played like any other notes."""
    if figuration.kind is FigurationKind.GLISSANDO:
        enough = figuration.strokes >= figures.glissando.remark_notes
        return enough and figuration.step <= figures.glissando.remark_step
    return figuration.step <= figures.hands.told_step


def _of_runs(
    played: Sequence[Figuration], onsets: Iterable[Attack], player: Player, figures: Figures
) -> Iterator[Aside]:
    """Quick runs one way that are no glissando."""
    known = [
        figuration
        for figuration in played
        if figuration.kind in (FigurationKind.GLISSANDO, FigurationKind.ARPEGGIO)
    ]
    for line in _quick_lines(onsets, figures, 2 * player.fingers):
        start, end = line[0][0], line[-1][0]
        if any(
            figuration.start <= end and start <= figuration.end and gets_remark(figuration, figures)
            for figuration in known
        ):
            continue
        if any(figuration.start <= start and end <= figuration.end for figuration in known):
            continue
        pitches = tuple(pitch for _, pitch in line)
        advice = nearest_glissando(pitches, keep=(pitches[0], pitches[-1]))
        gone = " ".join(dict.fromkeys(pitch_name(60 + pitch)[:-1] for pitch in advice.left_out))
        what = plain(
            "not a glissando: no pedal setting gives these notes in a row;"
            f" without {gone} it could be one (set {advice.setting})"
        )
        if advice.left_out:
            yield Aside(AsideKind.NO_GLISSANDO, start, pitches, what)


def _quick_lines(onsets: Iterable[Attack], figures: Figures, placed: int) -> Iterator[list[tuple[int, int]]]:
    """Lines of single notes one way, (µs, pitch) each.

    They are as quick as a glissando, and of more notes than two hands can place beforehand.
    """
    line: list[tuple[int, int]] = []
    up = True
    notes = ((onset.us, onset.pitches[0]) for onset in onsets if len(onset.pitches) == 1)
    for before, note in pairwise(notes):
        quick = note[0] - before[0] <= figures.glissando.step and note[1] != before[1]
        if quick and line and (note[1] > before[1]) is up:
            line.append(note)
            continue
        if len(line) > placed:
            yield line
        up = note[1] > before[1]
        line = [before, note] if quick else []
    if len(line) > placed:
        yield line
