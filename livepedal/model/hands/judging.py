"""Three players' hands, attack by attack: placing.py, pace.py and figurations.py put together.

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

from livepedal.harp import Instrument, Player
from livepedal.model.hands.figurations import Figuration, FigurationKind, Finder
from livepedal.model.hands.pace import Line, StringFault, Strings
from livepedal.model.hands.placing import HandsFault, Placing, Share
from livepedal.model.hands.strokes import MARGIN, NO_STRAIN, NOBODY, Failed, Strains, Struck
from livepedal.sources.scores.written import NO_SIGN, Sign


class Hands:
    """The hands of three players (slowest first). `failed`: which of them cannot play the open attack."""

    def __init__(self, players: Sequence[Player], instrument: Instrument, notes: int) -> None:
        """notes: how many make a glissando."""
        self._placing = Placing(players, instrument)
        self._line = Line(players)
        self._strings = Strings(players, instrument)
        self._finder = Finder(players, instrument, notes, self._placing.grips)
        self._alone: int | None = None
        self.start()

    def start(self) -> None:
        """Hands free, nothing plucked."""
        for part in (self._placing, self._line, self._strings, self._finder):
            part.start()
        self.failed = NOBODY
        self._came_with = NO_STRAIN  # the strain on the hands before the open attack, which what comes keeps
        self._pitches: tuple[int, ...] = ()
        self._signs: dict[int, Sign] = {}
        self._us = 0
        self._parts: tuple[Strains, Strains, Strains] = (NO_STRAIN, NO_STRAIN, NO_STRAIN)

    def fork(self) -> Hands:
        """A copy that goes its own way."""
        copy = object.__new__(Hands)
        copy.__dict__.update(self.__dict__)
        copy._placing, copy._line = self._placing.fork(), self._line.fork()
        copy._strings, copy._finder = self._strings.fork(), self._finder.fork()
        copy._signs = dict(self._signs)
        return copy

    def alone(self, number: int) -> Hands:
        """A copy in which whatever is asked of any player is answered for this one (0: the slowest)."""
        copy = self.fork()
        copy._alone = number
        return copy

    # -- what is fed --------------------------------------------------------------------------------------------------

    def open(self, us: int) -> None:
        """A new attack begins (µs)."""
        first, second, third = [strain if strain <= MARGIN else 0.0 for strain in self._placing.strains]
        self._came_with = first, second, third
        self._placing.open(us)
        for part in (self._line, self._strings, self._finder):
            part.open()
        self._signs = {}
        self.failed, self._parts = NOBODY, (NO_STRAIN, NO_STRAIN, NO_STRAIN)

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
        struck = Struck(us, pitches, figuration, limits)
        if self._signs:
            struck = self._as_written(struck)
            figuration = struck.figuration
        whole = any(steps) and figuration.issuperset(pitches)
        since = min((figuration.start for figuration, _, _ in self._finder.here), default=us)
        line = self._line.judge(pitches, us, steps if whole else None, since)
        strings = self._strings.judge(figuration)
        relaxed, working, virtuoso = [max(a, b) > MARGIN for a, b in zip(line, strings, strict=True)]
        hands = self._placing.judge(struck, (relaxed, working, virtuoso))
        self._parts = hands, line, strings
        self._pitches, self._us = pitches, us
        first, second, third = [max(a, b, c) > MARGIN for a, b, c in zip(hands, line, strings, strict=True)]
        if self._alone is not None:
            first = second = third = (first, second, third)[self._alone]
        self.failed = first, second, third
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
        self._placing.close()

    def finish(self) -> None:
        """The music is over."""
        self._placing.finish()

    # -- what is told -------------------------------------------------------------------------------------------------

    @property
    def strains(self) -> Strains:
        """Each player's strain in the open attack, the greatest of all rules."""
        first, second, third = map(max, *self._parts)
        return first, second, third

    def just(self, number: int) -> bool:
        """Whether a player (0: the slowest) misses a figuration in the open attack by so little that it counts as met.

        A strain that the hands bring from before was told of there.
        """
        hands, line, strings = (strains[number] for strains in self._parts)
        new = max(hands if hands > self._came_with[number] else 0.0, line, strings)
        return not self.failed[number] and new > 1

    @property
    def parts(self) -> tuple[Strains, Strains, Strains]:
        """The same rule by rule: the hands, the line, the strings."""
        return self._parts

    @property
    def here(self) -> tuple[tuple[Figuration, Failed], ...]:
        """The figurations that the open attack belongs to, and for whom they are too fast or out of reach."""
        found = []
        for figuration, _, strains in self._finder.here:
            first, second, third = [strain > MARGIN for strain in strains]
            if self._alone is not None:
                first = second = third = (first, second, third)[self._alone]
            found.append((figuration, (first, second, third)))
        return tuple(found)

    @property
    def figurations(self) -> tuple[Figuration, ...]:
        """All figurations so far, in order of time."""
        recognised = dict(self._finder.recognised)
        recognised.update(
            {
                (figuration.kind, figuration.start, figuration.first): figuration
                for figuration, _, _ in self._finder.here
            }
        )
        found = sorted(recognised.values(), key=lambda figuration: (figuration.start, figuration.first))
        tremolos = [figuration for figuration in found if figuration.kind is FigurationKind.TREMOLO]
        return tuple(
            figuration for figuration in found if not any(figuration.within(one) for one in tremolos)
        )

    @property
    def shares(self) -> tuple[Share, ...]:
        """Who took what, as far as it is settled."""
        return tuple(self._placing.shares)

    def faults(self, number: int) -> tuple[HandsFault | None, StringFault | None]:
        """Why a player (0: the slowest) cannot play the open attack: what is furthest off."""
        hands, line, strings = (strains[number] for strains in self._parts)
        if strings > max(hands, line):
            return None, self._strings.fault(number)
        if line > hands:
            return self._line.fault(self._pitches, self._us, number), None
        return self._placing.fault(self._pitches, self._us, number), None
