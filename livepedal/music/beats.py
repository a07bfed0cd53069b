"""Bar lines and beats as musicians count them, for whoever looks for a moment to do something at.

Six, nine and twelve eighths (and the like) have beats of three units; every other metre has its denominator's.
"""

from __future__ import annotations

from dataclasses import dataclass

from livepedal.music.timemap import Place, TimeMap


@dataclass(frozen=True, slots=True)
class Beats:
    """The bar lines and beats of some music."""

    time_map: TimeMap

    @property
    def metre_known(self) -> bool:
        """Whether the music says its metre; else bars are a guess and beats are crotchets."""
        return self.time_map.metre_known

    def bar_line(self, us: int) -> int:
        """The last bar line up to a moment (µs)."""
        return self.time_map.us_of_bar(self._place(us).bar)

    def beat(self, us: int) -> int:
        """The last beat up to a moment (µs)."""
        place, unit = self._place(us), self._unit(us)
        return self.time_map.us_of_bar(place.bar, 1 + (place.beat - 1) // unit * unit)

    def _place(self, us: int) -> Place:
        """Bar and beat of the last tick up to a moment."""
        tick = self.time_map.tick(us)
        return self.time_map.place_of_tick(tick - (self.time_map.us(tick) > us))

    def length(self, us: int) -> int:
        """How long a beat is there (µs)."""
        bar = self.time_map.place(us).bar
        return self.time_map.us_of_bar(bar, 1 + self._unit(us)) - self.time_map.us_of_bar(bar)

    def bar_length(self, us: int) -> int:
        """How long the bar there is (µs)."""
        bar = self.time_map.place(us).bar
        return self.time_map.us_of_bar(bar + 1) - self.time_map.us_of_bar(bar)

    def _unit(self, us: int) -> int:
        beats, _ = self.time_map.metre(us)
        return 3 if beats > 3 and beats % 3 == 0 else 1
