"""Instruments: which strings a harp has, and which of them no pedal reaches.

The lowest strings, and on many harps the top one, have no discs: they are tuned by hand for the piece and sound that
whatever the pedal of their letter does. They are tuned down where need be, but not up: lowering is harmless, raising
strains (siba, scordatura; common practice). Sources disagree on which ones
(Wikipedia "Pedal harp" and Volpé Bligh item 3: C1 and D1; Canton & Overlach, composingforharp.com: usually
the top G too; Goss, 100 Orchestration Tips no. 65: it depends on the instrument), so they are data, in
figures.toml.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from livepedal.errors import LivepedalError
from livepedal.harp.pedals import Position
from livepedal.harp.specs import figure
from livepedal.harp.strings import HarpString, Spelling


@dataclass(frozen=True, slots=True)
class Instrument:
    """One kind of harp.

    Attributes:
        name: as chosen with `--harp`, "47".
        lowest, highest: its outermost strings; every letter between them is there.
        fixed: the strings without a pedal as they usually are tuned, as spellings with `fixed` true, lowest first.

    Raises:
        LivepedalError: when the strings do not go upwards, or a fixed string lies outside them or occurs twice.
    """

    name: str
    lowest: HarpString = figure()
    highest: HarpString = figure()
    fixed: tuple[Spelling, ...] = ()
    _spellings: tuple[tuple[Spelling, ...], ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        if self.highest < self.lowest:
            raise LivepedalError(
                f"The harp {self.name!r} would have its lowest string {self.lowest.name} above its highest,"
                f" {self.highest.name}; swap the two."
            )
        tuned: set[HarpString] = set()
        for spelling in self.fixed:
            string = spelling.string
            if not self.lowest <= string <= self.highest:
                raise LivepedalError(
                    f"The harp {self.name!r} has no string {string.name} to fix:"
                    f" its strings are {self.lowest.name} to {self.highest.name}."
                )
            if string in tuned:
                raise LivepedalError(
                    f"The harp {self.name!r} tunes its string {string.name} twice; keep one."
                )
            tuned.add(string)
        table: list[list[Spelling]] = [[] for _ in range(128)]
        by_string = {spelling.string: spelling for spelling in self.fixed}
        for string in self.strings:
            fixed = by_string.get(string)
            for spelling in (fixed,) if fixed else (Spelling(string, position) for position in Position):
                if 0 <= spelling.pitch < 128:
                    table[spelling.pitch].append(spelling)
        for usual in self.fixed:
            for position in Position:
                # Where another string has the note, nobody tunes this one for it.
                lower = Spelling(usual.string, position, fixed=True)
                down = position <= max(usual.position, Position.NATURAL)
                if down and 0 <= lower.pitch < 128 and not table[lower.pitch]:
                    table[lower.pitch].append(lower)
        # A frozen dataclass leaves no other way to set a value that is computed from the others.
        object.__setattr__(self, "_spellings", tuple(tuple(spellings) for spellings in table))

    @property
    def strings(self) -> tuple[HarpString, ...]:
        """All its strings, lowest first."""
        return tuple(HarpString.numbered(n) for n in range(self.lowest.number, self.highest.number + 1))

    def spellings(self, midi: int) -> tuple[Spelling, ...]:
        """Every way to sound a MIDI number: none, one or two spellings, the lower string first."""
        return self._spellings[midi] if 0 <= midi < 128 else ()
