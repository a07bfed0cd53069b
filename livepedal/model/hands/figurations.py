"""Figurations: music that a file plays out, and that a harpist reads from a sign or plays as one gesture.

A sequencer plays notation out: a tremolo as many short notes, a glissando as a run. These have limits of their own
(figures.toml, by player, as the least time from stroke to stroke) and are never hundreds of findings. Recognised are,
attack by attack:
- *glissando*: a run over neighbouring strings as they are set (glissando.py), in any number of voices;
- *tremolo* (bisbigliando): two to eight notes again and again, together or in two groups in turn, that lie within both
  hands; *trill*: two neighbouring notes in turn. Fingers of both hands take turns;
- *arpeggio*: six single notes or more that go up or down by chord notes, a fifth in three steps at the least; it may
  turn round. Each hand places while the other plays.
All other music may go on beside them.

Nothing here asks how fast it goes: the same notes are the same figuration at every tempo, so that slower is never
harder where one begins. Slow ones are simply not told of (`told_step` in `[hands]` of figures.toml).

A figuration is recognised when it has gone on for a while. What was said of its first attacks is taken back then
(monitor.py).
"""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from livepedal.harp import Instrument, Player, Setting
from livepedal.model.hands.glissando import Run, Runs
from livepedal.model.hands.grips import NEVER, Block
from livepedal.model.hands.placing import Placing
from livepedal.model.hands.strokes import FIFTH, NO_STRAIN, Strains

AGAIN = 3  # times that one group comes again before it is a tremolo
IN_TURN = 4  # times that one of two groups comes again
SOON = 6  # attacks after which a figuration is recognised at the latest
MOST_NOTES = 8  # of a tremolo
TRILL = 2  # semitones
BROKEN = 6  # notes of an arpeggio, more than one hand has placed
LATELY = 8  # notes by which its speed is told
ROW, OCTAVE = 3, 12  # an arpeggio goes over a fifth in three steps, and no step is wider than an octave


class FigurationKind(StrEnum):
    """Which figuration. The words stand in the JSON."""

    GLISSANDO = "glissando"
    TREMOLO = "tremolo"
    TRILL = "trill"
    ARPEGGIO = "arpeggio"


@dataclass(frozen=True, slots=True)
class Figuration:
    """One figuration.

    Attributes:
        start, end: its first and last stroke (µs).
        strokes: how many, each a note or notes struck together.
        pitches: all that it strikes, a glissando's in the order played.
        settings: those that a glissando can be played in.
    """

    kind: FigurationKind
    start: int
    end: int
    strokes: int
    pitches: tuple[int, ...]
    settings: tuple[Setting, ...] = ()
    first: int = 0  # the pitch that a glissando begins with: voices begin together

    @property
    def key(self) -> tuple[FigurationKind, int, int]:
        """What stays the same while it goes on."""
        return self.kind, self.start, self.first

    @property
    def step(self) -> float:
        """From stroke to stroke, on average (µs)."""
        return (self.end - self.start) / max(self.strokes - 1, 1)

    def within(self, tremolo: Figuration) -> bool:
        """Whether it is a glissando that some notes of a tremolo seem to be: chords in turn are no sweep."""
        return (
            self.kind is FigurationKind.GLISSANDO
            and tremolo.start <= self.start
            and self.end <= tremolo.end
            and set(self.pitches) <= set(tremolo.pitches)
        )

    @property
    def per_second(self) -> float:
        """Strokes a second."""
        return 1_000_000 / self.step if self.step else 0.0


@dataclass(frozen=True, slots=True)
class _Again:
    """Groups that come again: those that are due, the next one first; how often they did; since when (µs)."""

    groups: tuple[frozenset[int], ...]
    times: int
    start: int


@dataclass(frozen=True, slots=True)
class _Row:
    """Single notes one way by chord notes.

    That is the last ones with their moments (µs), latest first; whether upwards; how many one way, and in all.
    """

    notes: tuple[tuple[int, int], ...]
    up: bool
    way: int
    count: int
    start: int
    pitches: frozenset[int]


class Heard(NamedTuple):
    """A figuration with the notes of the open attack that belong to it, and each player's strain in it."""

    figuration: Figuration
    notes: frozenset[int]
    strains: Strains


class Finder:
    """The tremolos, trills and arpeggios on their way, for three players (slowest first).

    Attributes:
        here: those with a note in the open attack.
    """

    def __init__(self, players: Sequence[Player], instrument: Instrument, notes: int, placing: Placing) -> None:
        """notes: how many make a glissando."""
        self.players = tuple(players)
        self._grips = placing.grips
        self._over: dict[tuple[FigurationKind, int, int], Figuration] = {}
        self._runs = Runs(instrument, notes, placing.anew)
        self._last: tuple[tuple[frozenset[int], int], ...] = ()  # the last two attacks, latest first
        self._again: tuple[_Again | None, ...] = (None, None)
        self._row: _Row | None = None
        self._next: tuple[frozenset[int], int, tuple[_Again | None, ...], _Row | None] | None = None
        self.here: tuple[Heard, ...] = ()

    def fork(self) -> Finder:
        """A copy that goes its own way."""
        twin = copy(self)
        twin._runs, twin._over = copy(self._runs), dict(self._over)
        return twin

    @property
    def figurations(self) -> tuple[Figuration, ...]:
        """All so far, in order of time."""
        known = self._over | {heard.figuration.key: heard.figuration for heard in self.here}
        found = sorted(known.values(), key=lambda figuration: (figuration.start, figuration.first))
        tremolos = [figuration for figuration in found if figuration.kind is FigurationKind.TREMOLO]
        return tuple(one for one in found if not any(one.within(tremolo) for tremolo in tremolos))

    def open(self, us: int) -> None:
        """A new attack begins (µs)."""
        for recognised in self.here:
            self._over[recognised.figuration.key] = recognised.figuration
        self.here = ()
        self._runs.open(us)
        if self._next is not None:
            struck, us, self._again, self._row = self._next
            self._last = ((struck, us), *self._last[:1])
            self._next = None

    def hear(self, pitches: Block, us: int) -> tuple[frozenset[int], Strains, tuple[int, ...]]:
        """Hear the attack so far (upwards, at `us` µs): which of its notes stand in figurations.

        With these come for each player the strain in the hardest one, and the least time from stroke to stroke (µs; a
        glissando takes no strokes).
        """
        struck = frozenset(pitches)
        self._runs.hear(pitches, us)
        again = tuple(self._comes_again(number, struck) for number in range(2))
        row = self._goes_on(pitches, us)
        self._next = struck, us, again, row
        found = [self._glissando(run) for run in self._runs.glissandi()]
        for number, repeated in enumerate(again):
            if repeated is not None and repeated.times >= (AGAIN, IN_TURN)[number]:
                tremolo = self._tremolo(repeated, us)
                # In the midst of a glissando in thirds the same notes come again, too.
                if tremolo is not None and not any(tremolo.notes <= heard.notes for heard in found):
                    found.append(tremolo)
        # Chord notes that are the strings in a row are a glissando, as of a diminished seventh (Berlioz, p. 90).
        if row is not None and row.count >= BROKEN and not found:
            found.append(self._arpeggio(row, us))
        self.here = tuple(found)
        if not found:
            return frozenset(), NO_STRAIN, (0, 0, 0)
        notes = frozenset[int]().union(*(heard.notes for heard in found))
        limits = tuple(map(max, zip(*(heard.strains for heard in found), strict=True)))
        kinds = [heard.figuration.kind for heard in found]
        plucked = [kind for kind in kinds if kind is not FigurationKind.GLISSANDO]
        steps = tuple(max([_step(kind, player) for kind in plucked], default=0) for player in self.players)
        return notes, limits, steps

    def _glissando(self, run: Run) -> Heard:
        figuration = Figuration(
            FigurationKind.GLISSANDO, run.start, run.us, run.notes, run.pitches, run.settings, run.first
        )
        return Heard(
            figuration, frozenset(run.pitches[-run.here :]), self._strains(figuration.kind, figuration.step)
        )

    # -- the same again -----------------------------------------------------------------------------------------------

    def _comes_again(self, number: int, struck: frozenset[int]) -> _Again | None:
        """Whether this attack repeats the one before it (number 0) or the one before that (1)."""
        if len(self._last) <= number:
            return None
        known = self._again[number]
        least = 2 - number
        if known is not None:
            common = known.groups[0] & struck
            if len(common) >= least:
                return _Again((*known.groups[1:], common), known.times + 1, known.start)
        common = self._last[number][0] & struck
        if len(common) < least:
            return None
        return _Again((*(group for group, _ in self._last[:number]), common), 1, self._last[number][1])

    def _tremolo(self, again: _Again, us: int) -> Heard | None:
        notes = tuple(sorted(frozenset().union(*again.groups)))
        if not 2 <= len(notes) <= MOST_NOTES or len(set(again.groups)) < len(again.groups):
            return None
        in_turn = len(again.groups) == 2
        trill = in_turn and len(notes) == 2 and notes[1] - notes[0] <= TRILL
        kind = FigurationKind.TRILL if trill else FigurationKind.TREMOLO
        figuration = Figuration(kind, again.start, us, again.times + len(again.groups), notes)
        divisions = self._grips.divisions(notes)
        strains = tuple(
            strain
            if any(not one.left_again[n] and not one.right_again[n] for one in divisions)
            else float(NEVER)
            for n, strain in enumerate(self._strains(kind, figuration.step))
        )
        return Heard(figuration, again.groups[-1], strains)

    def _strains(self, kind: FigurationKind, step: float) -> Strains:
        return tuple(_step(kind, player) / max(step, 1) for player in self.players)

    # -- arpeggios ----------------------------------------------------------------------------------------------------

    def _goes_on(self, pitches: Block, us: int) -> _Row | None:
        if len(pitches) != 1:
            return None
        pitch = pitches[0]
        row = self._row
        if row is None:
            return _Row(((pitch, us),), True, 1, 1, us, frozenset(pitches))
        last, then = row.notes[0]
        up = pitch > last
        notes = ((pitch, us), *row.notes[:LATELY])
        if pitch == last or abs(pitch - last) > OCTAVE:
            return _Row(((pitch, us),), True, 1, 1, us, frozenset(pitches))
        if row.way == 1 or up is row.up:
            way = row.way + 1
            if way <= ROW or abs(pitch - notes[ROW][0]) >= FIFTH:
                return _Row(notes, up, way, row.count + 1, row.start, row.pitches | {pitch})
        elif row.way > ROW:
            return _Row(notes, up, 2, row.count + 1, row.start, row.pitches | {pitch})
        return _Row(((pitch, us), (last, then)), up, 2, 2, then, frozenset((pitch, last)))

    def _arpeggio(self, row: _Row, us: int) -> Heard:
        figuration = Figuration(FigurationKind.ARPEGGIO, row.start, us, row.count, tuple(sorted(row.pitches)))
        # As fast as it goes now, not over all of it.
        step = (us - row.notes[-1][1]) / (len(row.notes) - 1)
        return Heard(figuration, frozenset((row.notes[0][0],)), self._strains(figuration.kind, step))


def _step(kind: FigurationKind, player: Player) -> int:
    """The player's least time from stroke to stroke (µs)."""
    return {
        FigurationKind.GLISSANDO: player.glissando,
        FigurationKind.TREMOLO: player.tremolo,
        FigurationKind.TRILL: player.trill,
        FigurationKind.ARPEGGIO: player.arpeggio,
    }[kind]
