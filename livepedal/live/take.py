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
from collections.abc import Iterator
from dataclasses import replace

from livepedal.live.grid import TICKS, Grid, bar_ticks
from livepedal.live.question import MOST_CONTEXT, Question
from livepedal.live.setup import Setup
from livepedal.model.findings import Finding, Passage
from livepedal.model.settled import Settled
from livepedal.model.snapshot import Snapshot
from livepedal.model.watching import WatchedMonitor
from livepedal.music.events import ChoosePlayer, Event, NoteOff, NoteOn, SetPedals, Sustain
from livepedal.music.timemap import DEFAULT_TEMPO, TimeMap
from livepedal.music.tracks import DRUM_CHANNEL
from livepedal.sources.raw import CONTROLLER, NOTE_OFF, NOTE_ON, SUSTAIN, TICK, packed, unpacked

# Channels of the file for the keyboards that are heard: all but that for drums.
SLOTS = tuple(channel for channel in range(16) if channel != DRUM_CHANNEL)
# µs before the first note in which pedals can be moved, at the most: enough for any player to move all seven.
LONGEST_LEAD = 10_000_000


class Take:
    """One piece as it is played.

    Moments given to it are µs of the session; those that it gives are µs of the take.

    Attributes:
        number: from 1.
        players: the players it was judged for, in the order in which they were chosen.
        musical: whether bars and beats mean anything.
        time_map: its moments as the file will have them.
        lead: ticks between when the pedals were set and the start of the bar that the music begins in.
        kept: packed messages, with the ticks of the take.
        came_late: those that are not judged, since nobody knows when they were played.
        notes: how many keys went down.
        found: the findings that are settled and stand.
        judged_until: µs of the take up to which it was judged; None for all of it.
        over: whether it is over.

    Args:
        tempo: µs a quarter; None where nobody counts.
        since: the moment of the session (µs) from which the pedals stand as they were set.
        judged: False where only its file is wanted.
    """

    def __init__(
        self,
        number: int,
        setup: Setup,
        player: str,
        tempo: int | None,
        since: int = 0,
        *,
        judged: bool = True,
    ) -> None:
        self.number = number
        self.setup = setup
        self.players: tuple[str, ...] = (player,)
        self.musical = tempo is not None
        self.time_map = Grid(tempo or DEFAULT_TEMPO, setup.metre)
        self.lead = 0
        self._monitor: WatchedMonitor | None = None
        self._judging = judged
        self.judged_until: int | None = None
        if judged:
            self._monitor = WatchedMonitor(setup.figures, setup.instrument, player, setup.layers)
            if setup.setting is not None:
                self._monitor.feed(SetPedals(0, setup.setting))
        else:
            self.judged_until = 0
        self.kept = array("Q")
        self.came_late = array("Q")
        self.found: list[Finding] = []
        self.notes = 0
        self.over = False
        self._since = since
        self._waited = 0  # µs since then in which nothing was played
        self._base: int | None = None  # µs of the session at which the take has its moment 0
        self._last = 0  # the last tick in use
        self._moment = 0
        self._struck: set[tuple[int, int]] = set()  # keys struck at the last tick
        self._down: dict[tuple[int, int], None] = {}  # (slot, pitch), in the order in which they went down
        self._pedals: set[int] = set()  # slots whose sustain pedal is down
        self._settled = Settled(self._monitor, setup.figures.window.attack) if self._monitor else None
        self._look = False  # whether a passage may have closed since `news` looked

    @property
    def monitor(self) -> WatchedMonitor:
        """The monitor of a take that is judged."""
        assert self._monitor is not None
        return self._monitor

    @property
    def passages(self) -> tuple[Passage, ...]:
        """The passages so far, the open one last, as far as it is judged."""
        return () if self._monitor is None else self._monitor.passages

    @property
    def players_known(self) -> tuple[str, ...]:
        """The names of the three players that it is judged for, the relaxed one first."""
        return tuple(player.name for player in self.setup.figures.scale(self.players[0]))

    # -- time ------------------------------------------------------------------------------------------------

    def moment(self, us: int) -> int:
        """A moment of the session (µs) in µs of the take; 0 before its first note."""
        return 0 if self._base is None else max(us - self._base, 0)

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

    @property
    def quarter(self) -> int | None:
        """The length of a quarter now (µs); None where nobody counts."""
        return round(60_000_000 / self.time_map.beats_per_minute(self._moment)) if self.musical else None

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
        self._look = True
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
        if self.over or self._monitor is None or not self._judging:
            return
        self._look = True
        # Only whole ticks that are over count as passed, since what comes next is rounded to the nearest.
        self._monitor.advance(max(self.time_map.us(self.time_map.tick(us - self._base) - 1), self._moment))

    def judge_no_more(self) -> None:
        """From here on only keep the notes."""
        if self._judging:
            self.monitor.finish()
            self._look = True
            self._judging = False
            self.judged_until = self._moment

    def give_up(self) -> None:
        """From here on only keep the notes, since judging has failed and the monitor cannot be trusted."""
        if self._judging:
            self.judged_until = self._moment
        self._judging, self._settled = False, None

    def finish(self, us: int) -> None:
        """End the take; keys that are down come up."""
        if self.over:
            return
        if self._base is not None:
            self.release_all(us)
        if self._monitor is not None and self._settled is not None and self._judging:
            self._settled.found(self._monitor.finish())
        self.over = self._look = True

    @property
    def end(self) -> int:
        """The last tick in use."""
        return max(self._last, self.came_late[-1] >> TICK) if self.came_late else self._last

    def snapshot(self) -> Snapshot:
        """How it stands now."""
        snapshot = self.monitor.snapshot()
        if self._base is None and self.setup.setting is not None:
            # Pedals that were set can be moved before the first note.
            return replace(snapshot, us=max(snapshot.us, self._waited))
        return snapshot

    def _feed(self, event: Event) -> tuple[Finding, ...]:
        if self._monitor is None or self._settled is None or not self._judging:
            return ()
        found = self._monitor.feed(event)
        self._settled.found(found)
        return found

    # -- what there is to tell -------------------------------------------------------------------------------

    def news(self) -> tuple[list[Finding], list[Passage]]:
        """Findings and passages that are settled since the last call."""
        if self._settled is None:
            return [], []
        findings = self._settled.findings(self.over or not self._judging)
        for finding in findings:
            if finding.withdrawn:  # the figure that it is part of was recognised
                self.found = [known for known in self.found if known.id != finding.id]
            else:
                self.found.append(finding)
        passages: list[Passage] = []
        if self._look:
            self._look = False
            passages = self._settled.passages()
        return findings, passages

    def question(self, passage: Passage) -> Question:
        """A closed passage as advice is asked for on it, for the player who was chosen last."""
        setup = self.setup
        first = bisect_left(self.kept, self.time_map.tick(passage.start) << TICK)
        context = max(0, first - MOST_CONTEXT)
        return Question(
            self.number,
            self.passages.index(passage) + 1,
            passage,
            tuple(self.events(context, self.time_map.tick(passage.end))),
            self.time_map.since(self.kept[context] >> TICK),
            self.musical,
            replace(setup, player=self.players[-1], setting=setup.setting if context == 0 else None),
            setup.middle_c,
        )

    def events(self, first: int, end: int) -> Iterator[Event]:
        """The kept messages from this number on, up to the tick `end`, as a saved file has them."""
        for word in self.kept[first : bisect_left(self.kept, end + 1 << TICK)]:
            tick, status, pitch, value = unpacked(word)
            us, channel = self.time_map.us(tick), status & 15
            if status < NOTE_ON:
                yield NoteOff(us, pitch, channel)
            elif status < CONTROLLER:
                yield NoteOn(us, pitch, value, channel)
            else:
                yield Sustain(us, value >= 64, channel)
