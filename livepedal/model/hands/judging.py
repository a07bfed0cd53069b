"""Three players' hands, attack by attack: histories.py, pace.py and figurations.py put together.

What is compared is always time needed against time there was (a *strain*), and a player can play an attack whose
strains are all within `MARGIN`. Judged are
- each hand (placing.py), less what its figurations allow;
- both hands' strokes together (pace.Line);
- each string (pace.Strings), unless its note stands in a figuration.

The work of an attack is bounded whatever is played: so many histories times so many ways to share a chord out, and so
many runs.
"""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from typing import TYPE_CHECKING

from livepedal.harp import Instrument, Player
from livepedal.harp.signs import NO_SIGN, Sign
from livepedal.model.hands.figurations import Figuration, Finder, Heard
from livepedal.model.hands.histories import Histories, Share
from livepedal.model.hands.pace import Line, StringFault, Strings
from livepedal.model.hands.placing import HandsFault, Placing
from livepedal.model.hands.strokes import MARGIN, NO_STRAIN, NOBODY, Failed, Strains, Struck

if TYPE_CHECKING:  # whoever makes one has loaded them; the model alone needs no files of figures
    from livepedal.harp import Figures


class Hands:
    """The hands of three players (slowest first), free at first.

    Attributes:
        failed: which of them cannot play the open attack.
        parts: each player's strain in it, rule by rule: the hands, the line, the strings.
    """

    def __init__(self, players: Sequence[Player], instrument: Instrument, figures: Figures) -> None:
        placing = Placing(players, instrument, figures.hands)
        self._histories = Histories(placing)
        self._line = Line(players)
        self._strings = Strings(players, instrument)
        self._finder = Finder(players, instrument, figures.glissando.notes, placing)
        self._came_with = NO_STRAIN  # the strain on the hands before the open attack, which what comes keeps
        self._signs: dict[int, Sign] = {}
        self._struck: tuple[tuple[int, ...], int] = (), 0  # the open attack, as far as it was judged
        self.failed = NOBODY
        self.parts: tuple[Strains, Strains, Strains] = NO_STRAIN, NO_STRAIN, NO_STRAIN

    def fork(self) -> Hands:
        """A copy that goes its own way."""
        twin = copy(self)
        twin._histories, twin._line = self._histories.fork(), copy(self._line)
        twin._strings, twin._finder = self._strings.fork(), self._finder.fork()
        twin._signs = dict(self._signs)
        return twin

    # -- what is fed --------------------------------------------------------------------------------------------------

    def open(self, us: int) -> None:
        """A new attack begins (µs)."""
        self._came_with = tuple([strain if strain <= MARGIN else 0.0 for strain in self._histories.strains])
        self._histories.open(us)
        self._line.open()
        self._strings.open()
        self._finder.open(us)
        self._signs = {}
        self.failed, self.parts = NOBODY, (NO_STRAIN, NO_STRAIN, NO_STRAIN)

    def strike(self, pitch: int, us: int, signs: Sign = NO_SIGN) -> None:
        """A note of the open attack is struck (µs).

        Args:
            pitch: its MIDI number.
            us: its moment (µs).
            signs: as a score has them at it.
        """
        self._strings.strike(pitch, us)
        if signs:
            self._signs[pitch] = signs

    def take_back(self) -> None:
        """No note of the open attack was struck, for trying on another one."""
        self._strings.take_back()

    def judge(self, pitches: tuple[int, ...], us: int) -> Failed:
        """Who cannot play the open attack (pitches upwards, each once, all with a string, at least one; at `us` µs).

        May be asked again when a note is added.
        """
        figuration, limits, steps = self._finder.hear(pitches, us)
        struck = Struck(us, pitches, figuration, limits, {})
        if self._signs:
            struck = self._as_written(struck)
        since = min([heard.figuration.start for heard in self.here], default=us + 1)
        figured = frozenset[int]().union(*[heard.figuration.pitches for heard in self.here])
        line = self._line.judge(pitches, us, figured, steps, since)
        strings = self._strings.judge(struck.figuration)
        otherwise = tuple([max(a, b) > MARGIN for a, b in zip(line, strings, strict=True)])
        hands = self._histories.judge(struck._replace(failed=otherwise))
        self.parts = hands, line, strings
        self._struck = pitches, us
        self.failed = tuple([max(strains) > MARGIN for strains in zip(*self.parts, strict=True)])
        return self.failed

    def _as_written(self, struck: Struck) -> Struck:
        """The open attack as the signs of a score have it.

        What is written as a tremolo or a trill goes as fast as the player likes; a rolled chord may be taken in two
        placings; a glissando brings its hand along. Of two staves the right hand takes the upper one, where it can.
        """

        def marked(signs: Sign) -> frozenset[int]:
            return frozenset(pitch for pitch in struck.pitches if self._signs.get(pitch, NO_SIGN) & signs)

        together, slid = marked(Sign.TREMOLO | Sign.TRILL), marked(Sign.GLISSANDO_END)
        upper, lower = marked(Sign.UPPER), marked(Sign.LOWER)
        return struck._replace(
            figuration=struck.figuration | together | slid,
            together=together,
            rolled=marked(Sign.ROLLED),
            slid=slid,
            left=tuple(sorted(lower)) if upper and lower else None,
        )

    def close(self) -> None:
        """The open attack is over."""
        self._histories.close()

    def finish(self) -> None:
        """The music is over."""
        self._histories.finish()

    # -- what is told -------------------------------------------------------------------------------------------------

    def just(self, number: int) -> bool:
        """Whether a player (0: the slowest) misses a figuration in the open attack by so little that it counts as met.

        A strain that the hands bring from before was told of there.
        """
        hands, line, strings = (strains[number] for strains in self.parts)
        new = max(hands if hands > self._came_with[number] else 0.0, line, strings)
        return not self.failed[number] and new > 1

    @property
    def here(self) -> tuple[Heard, ...]:
        """The figurations that the open attack belongs to."""
        return self._finder.here

    @property
    def figurations(self) -> tuple[Figuration, ...]:
        """All figurations so far, in order of time."""
        return self._finder.figurations

    @property
    def shares(self) -> tuple[Share, ...]:
        """Who took what, as far as it is settled."""
        return tuple(self._histories.shares)

    def faults(self, number: int) -> tuple[HandsFault | None, StringFault | None]:
        """Why a player (0: the slowest) cannot play the open attack: what is furthest off."""
        hands, line, strings = (strains[number] for strains in self.parts)
        if strings > max(hands, line):
            return None, self._strings.fault(number)
        if line > hands:
            return self._line.fault(*self._struck, number), None
        return self._histories.fault(number), None
