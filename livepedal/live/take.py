"""A take: one piece of live music from its first note on, judged as it comes and kept for a file.

The file must be judged as the music was judged live, so both must hold the same events in the same order. In a file,
releases stand before strikes of the same moment (music/parts.py). Live they come in any order, and a note that was
judged cannot be taken back. So a message that could not stand where it came is put one tick later, live and in the
file alike: a release or a pedal after a strike, and a second strike of one key.

The first note is at tick 0: bar 1, beat 1, unless a sequencer's clock has said otherwise. But where the player has set
the pedals, they can be moved between that and the first note. That time comes before the first note in the take and
as silence in the file: in whole bars, numbered so that the music still starts in bar 1, or as it was where nobody
counts bars.

When a take is over, keys that are still down come up.
"""

from __future__ import annotations

from array import array
from bisect import bisect_left
from collections.abc import Callable
from dataclasses import replace

from livepedal.live.grid import TICKS, Grid, bar_ticks
from livepedal.live.piece import Piece
from livepedal.live.question import MOST_CONTEXT
from livepedal.live.setup import Setup
from livepedal.model.findings import Finding, Passage
from livepedal.model.snapshot import Snapshot
from livepedal.music.events import ChoosePlayer, NoteOff, NoteOn, Sustain
from livepedal.music.song import EventList
from livepedal.music.timemap import DEFAULT_TEMPO, TimeMap
from livepedal.music.tracks import DRUM_CHANNEL
from livepedal.sources.raw import CONTROLLER, NOTE_OFF, NOTE_ON, SUSTAIN, TICK, packed

# Channels of the file for the keyboards that are heard: all but that for drums.
SLOTS = tuple(channel for channel in range(16) if channel != DRUM_CHANNEL)
# µs before the first note in which pedals can be moved, at the most: enough for any player to move all seven.
LONGEST_LEAD = 10_000_000


class Take(Piece):
    """One piece as it is played.

    Moments given to it are µs of the session; those that it gives are µs of the take.

    Attributes:
        setup: what it is judged on.
        players: the players it was judged for, in the order in which they were chosen.
        musical: whether bars and beats mean anything.
        time_map: its moments as the file will have them.
        lead: ticks between when the pedals were set and the start of the bar that the music begins in.
        kept: packed messages, with the ticks of the take.
        came_late: those that are not judged, since nobody knows when they were played.
        notes: how many keys went down.
        wanted: the numbers of the passages (from 0) that become files of their own.

    Args:
        tempo: µs a quarter; None where nobody counts.
        since: the moment of the session (µs) from which the pedals stand as they were set.
        failed: takes what goes wrong in judging; None: it is raised.
    """

    def __init__(
        self,
        number: int,
        setup: Setup,
        tempo: int | None,
        since: int = 0,
        *,
        failed: Callable[[Exception], None] | None = None,
    ) -> None:
        super().__init__(number, setup, setup.middle_c, failed=failed)
        self.setup = setup
        self.players: tuple[str, ...] = (setup.player,)
        self.musical = tempo is not None
        self.time_map = Grid(tempo or DEFAULT_TEMPO, setup.metre)
        self.lead = 0
        self.kept = array("Q")
        self.came_late = array("Q")
        self.wanted: set[int] = set()
        self.notes = 0
        self._since = since
        self._waited = 0  # µs since then in which nothing was played
        self._base: int | None = None  # µs of the session at which the take has its moment 0
        self._last = 0  # the last tick in use
        self._struck: set[tuple[int, int]] = set()  # keys struck at the last tick
        self._down: dict[tuple[int, int], None] = {}  # (slot, pitch), in the order in which they went down
        self._pedals: set[int] = set()  # slots whose sustain pedal is down

    @property
    def players_known(self) -> tuple[str, ...]:
        """The names of the three players that it is judged for, the relaxed one first."""
        return tuple(player.name for player in self.setup.figures.scale(self.players[0]))

    # -- time ------------------------------------------------------------------------------------------------

    def begin(self, us: int, first_bar: int = 1, ticks: int = 0) -> None:
        """Start the take's time: this moment of the session is so many ticks after the start of its first bar."""
        if self.setup.setting is not None:
            self.lead, bars = self._lead(us)
            ticks, first_bar = ticks + self.lead, first_bar - bars
        self.time_map = Grid(self.time_map.tempos[0].per_quarter, self.setup.metre, first_bar)
        self._last = ticks
        self._moment = self.time_map.us(ticks)
        self._base = us - self._moment

    def _lead(self, us: int) -> tuple[int, int]:
        """The ticks, and the bars that they are, between when the pedals were set and this moment of the session."""
        ticks = self.time_map.tick(min(us - self._since, LONGEST_LEAD))
        if not self.musical:
            return ticks, 0
        bar = bar_ticks(self.setup.metre)
        bars = -(-ticks // bar)
        return bars * bar, bars

    def steer(self, us: int, beat: int, until: int, period: int) -> None:
        """Have the tick `beat` come `until` µs after this moment of the session, with quarters of `period` µs."""
        self.musical = True
        if self._base is None:
            self.time_map = Grid(period, self.setup.metre)
            return
        here = us - self._base
        tick = max(self.time_map.tick(here), self._last)
        self.time_map = self.time_map.bent(tick, here, beat, until, period)

    def next_beat(self, us: int) -> int:
        """The tick of the beat after the one that is nearest to this moment of the session."""
        tick = 0 if self._base is None else max(self.time_map.tick(us - self._base), self._last)
        return ((tick + TICKS // 2) // TICKS + 1) * TICKS

    @property
    def bars(self) -> TimeMap | None:
        """Bars and beats as far as they are known now; None where nobody counts."""
        return self.time_map if self.musical else None

    def _tick(self, us: int, strike: tuple[int, int] | None = None) -> int:
        """The tick for a message that comes at this moment of the session; see the top of this file."""
        assert self._base is not None
        tick = self.time_map.tick(us - self._base)
        if tick <= self._last:
            tick = self._last
            if self._struck and (strike is None or strike in self._struck):
                tick += 1
        if tick > self._last:
            self._last = tick
            self._moment = self.time_map.us(tick)
            self._struck.clear()
        return tick

    # -- what is played --------------------------------------------------------------------------------------

    def strike(self, us: int, slot: int, pitch: int, velocity: int) -> tuple[Finding, ...]:
        """A key goes down; what the model finds."""
        if self._base is None:
            self.begin(us)
        key = slot, pitch
        if key in self._down:
            # No key goes down twice: a release was lost, or two keyboards share a slot.
            self.release(us, slot, pitch)
        tick = self._tick(us, key)
        self._struck.add(key)
        self._down[key] = None
        self.notes += 1
        self.kept.append(packed(tick, NOTE_ON | SLOTS[slot], pitch, velocity))
        return self._feed(NoteOn(self._moment, pitch, velocity, slot))

    def release(self, us: int, slot: int, pitch: int) -> bool:
        """A key comes up; False where it was not down."""
        if (slot, pitch) not in self._down:
            return False
        tick = self._tick(us)
        del self._down[slot, pitch]
        self.kept.append(packed(tick, NOTE_OFF | SLOTS[slot], pitch, 64))
        self._feed(NoteOff(self._moment, pitch, slot))
        return True

    def release_all(self, us: int, slots: frozenset[int] = frozenset(range(len(SLOTS)))) -> None:
        """All keys of these slots come up."""
        for slot, pitch in [key for key in self._down if key[0] in slots]:
            self.release(us, slot, pitch)

    def sustain(self, us: int, slot: int, down: bool) -> None:
        """The sustain pedal of a slot goes down or comes up."""
        if (slot in self._pedals) is down or self._base is None:
            return
        self._pedals ^= {slot}
        tick = self._tick(us)
        self.kept.append(packed(tick, CONTROLLER | SLOTS[slot], SUSTAIN, 127 if down else 0))
        self._feed(Sustain(self._moment, down, slot))

    def late(self, us: int, slot: int, pitch: int, velocity: int) -> None:
        """Take a key that went down (velocity 0: came up) at an unknown moment, not before `us`.

        It is not judged, and stands on another track of the file. A key that was down comes up.
        """
        if not velocity and self.release(us, slot, pitch):
            return
        if self._base is None:
            self.begin(us)
        assert self._base is not None
        after = (self.came_late[-1] >> TICK) + 1 if self.came_late else 0  # one after the other, as they came
        tick = max(self.time_map.tick(us - self._base), after)
        status = (NOTE_ON if velocity else NOTE_OFF) | SLOTS[slot]
        self.came_late.append(packed(tick, status, pitch, velocity or 64))

    def choose(self, player: str) -> None:
        """Judge for this player from now on."""
        self.players += (player,)
        self._feed(ChoosePlayer(self._moment, player))

    def advance(self, us: int) -> None:
        """Let time pass to this moment of the session; nothing that comes later is earlier."""
        if self._base is None:
            self._waited = min(max(us - self._since, 0), LONGEST_LEAD)
            return
        if self.over or self.judged_until is not None:
            return
        # Only whole ticks that are over count as passed, since what comes next is rounded to the nearest.
        self._pass_to(max(self.time_map.us(self.time_map.tick(us - self._base) - 1), self._moment))

    def judge_no_more(self) -> None:
        """From here on only keep the notes."""
        self._last_verdicts()
        if self.judged_until is None:
            self.judged_until = self._moment

    def finish(self, us: int) -> None:
        """End the take; keys that are down come up."""
        if self.over:
            return
        if self._base is not None:
            self.release_all(us)
        self._last_verdicts()
        self.over = True

    @property
    def end(self) -> int:
        """The last tick in use."""
        return max(self._last, self.came_late[-1] >> TICK) if self.came_late else self._last

    def snapshot(self) -> Snapshot:
        """How it stands now."""
        snapshot = super().snapshot()
        if self._base is None and self.setup.setting is not None:
            # Pedals that were set can be moved before the first note.
            return replace(snapshot, us=max(snapshot.us, self._waited))
        return snapshot

    # -- what there is to tell -------------------------------------------------------------------------------

    def _music(self, passage: Passage) -> tuple[EventList, EventList, TimeMap]:
        first, last = (self.time_map.tick(us) << TICK for us in (passage.start, passage.end))
        first, last = bisect_left(self.kept, first), bisect_left(self.kept, last + (1 << TICK))
        before = max(first - MOST_CONTEXT, 0)
        time_map = self.time_map.since(self.kept[before] >> TICK)
        return self.events(before, first), self.events(first, last), time_map

    def events(self, first: int, last: int) -> EventList:
        """The kept messages from one number to before another, as a saved file has them."""
        words = self.kept[first:last]
        times = self.time_map.us_of([word >> TICK for word in words])
        return EventList(array("q", times), array("Q", (word & (1 << TICK) - 1 for word in words)))
