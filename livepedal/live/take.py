"""A take: one piece of live music from its first note on, judged as it comes and kept for a file.

The file must be judged as the music was judged live, so both have to hold the same events in the same order.
Reading a file, within one moment releases stand before strikes (parts.py). Live they come in any order, and a
note that was judged cannot be taken back. So a message that could not stand where it came is put one tick
later, live and in the file alike: a release or a pedal after a strike, and a second strike of one key. All
notes of a moment then are: what comes up, then what goes down.

The first note is at tick 0: bar 1, beat 1, unless a sequencer's clock has said otherwise. But where somebody has
said how the pedals stand, there is time between that and the first note, in which they can be moved: so much comes
before it in the take, and as silence in the file, in whole bars, which are counted so that the music still starts
in bar 1; where nobody counts, it is the time that there was.

When a take is over, keys that are still down come up with it.
"""

from __future__ import annotations

from array import array
from bisect import bisect_left
from collections.abc import Callable, Iterator
from copy import copy as copy_of
from copy import deepcopy
from dataclasses import dataclass, replace

from livepedal.live.grid import TICKS, Grid
from livepedal.live.question import MOST_CONTEXT, Question
from livepedal.live.setup import Setup
from livepedal.model.findings import Finding, Kind, Passage, Snapshot, Verdict
from livepedal.model.monitor import Monitor
from livepedal.model.settled import Settled
from livepedal.music.events import ChoosePlayer, Event, NoteOff, NoteOn, SetPedals, Sustain
from livepedal.music.timemap import DEFAULT_TEMPO, TimeMap
from livepedal.music.tracks import DRUM_CHANNEL
from livepedal.sources.raw import CONTROLLER, NOTE_OFF, NOTE_ON, SUSTAIN, TICK, packed, unpacked

# Channels of the file for the keyboards that are heard: all but that for drums.
SLOTS = tuple(channel for channel in range(16) if channel != DRUM_CHANNEL)
# µs before the first note in which pedals that somebody has set can be moved, at the most: all seven can be, by any
# player.
LONGEST_LEAD = 10_000_000


@dataclass(frozen=True, slots=True)
class KeptFinding:
    """What is kept of a finding: enough to know it again, and its text for the marker in the file."""

    us: int
    id: int
    revised: int
    kind: Kind
    verdict: Verdict
    audible: bool
    note: int
    player: str
    text: str

    def same(self) -> tuple[object, ...]:
        """What must agree when the file is judged, besides the moment."""
        return self.kind, self.verdict, self.audible, self.note, self.revised


class Take:
    """One piece as it is played. Moments given to it are µs of the session; those it gives are µs of the
    take.
    """

    def __init__(
        self,
        number: int,
        setup: Setup,
        player: str,
        tempo: int | None,
        describe: Callable[[Finding], str],
        since: int = 0,
        *,
        judged: bool = True,
    ) -> None:
        """Args:
        since: the moment of the session (µs) from which on the pedals stand as they were set.
        judged: False where only its file is wanted.
        """
        self.number = number
        self.setup = setup
        self.musical = tempo is not None  # whether bars and beats mean anything
        self.first_bar = 1
        self.lead = 0  # ticks before what `begin` was told is the start of the first bar
        self.grid = Grid(tempo or DEFAULT_TEMPO)
        self._monitor: Monitor | None = None
        self._judging = judged
        self.judged_until: int | None = None  # µs of the take, where not all of it was judged
        if judged:
            self._monitor = Monitor(setup.figures, setup.instrument, player, only=setup.layers, follow=True)
            if setup.setting is not None:
                self._monitor.feed(SetPedals(0, setup.setting))
        else:
            self.judged_until = 0
        self.kept = array("Q")  # packed messages, with the ticks of the take
        self.came_late = array("Q")  # what is not judged, since nobody knows when it was played
        self.marks: list[KeptFinding] = []
        self.players = [player]  # in the order in which they were chosen
        self.notes = 0
        self.over = False
        self._since = since
        self._waited = 0  # µs since then in which nothing was played
        self._describe = describe
        self._base: int | None = None  # µs of the session at which the take has its moment 0
        self._last = 0  # the last tick in use
        self._moment = 0
        self._struck: set[tuple[int, int]] = set()  # keys struck at the last tick
        self._down: dict[tuple[int, int], None] = {}  # (slot, pitch), in the order in which they went down
        self._pedals: set[int] = set()  # slots whose sustain pedal is down
        self._settled = Settled(self._monitor, setup.figures.attack_window) if self._monitor else None
        self._look = False  # whether a passage may have closed since `news` looked
        self._time_map: TimeMap | None = None

    @property
    def monitor(self) -> Monitor:
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
        """The take's time starts: this moment of the session is so many ticks after the start of its first
        bar.
        """
        if self.setup.setting is not None:
            self.lead, bars = self._lead(us)
            ticks, first_bar = ticks + self.lead, first_bar - bars
        self._base = us - self.grid.us(ticks)
        self._last = ticks
        self._moment = self.grid.us(ticks)
        self.first_bar = first_bar
        self._time_map = None

    def _lead(self, us: int) -> tuple[int, int]:
        """The ticks, and the bars that they are, between when the pedals were set and this moment of the session."""
        ticks = self.grid.tick(min(us - self._since, LONGEST_LEAD))
        if not self.musical:
            return ticks, 0
        numerator, denominator = self.setup.metre
        bar = 4 * TICKS * numerator // denominator
        bars = -(-ticks // bar)
        return bars * bar, bars

    def steer(self, us: int, beat: int, until: int, period: int) -> None:
        """The tick `beat` is to come `until` µs after this moment of the session; a quarter lasts `period`
        µs.
        """
        if not self.musical or self._base is None:
            self._time_map = None
        self.musical = True
        if self._base is None:
            self.grid = Grid(period)
            return
        here = us - self._base
        if self.grid.lean(max(self.grid.tick(here), self._last), here, beat, until, period):
            self._time_map = None

    def next_beat(self, us: int) -> int:
        """The tick of the beat after the one that is nearest to this moment of the session."""
        tick = 0 if self._base is None else max(self.grid.tick(us - self._base), self._last)
        return ((tick + TICKS // 2) // TICKS + 1) * TICKS

    @property
    def bars(self) -> TimeMap | None:
        """Bars and beats as far as they are known now; None where nobody counts."""
        return self.time_map if self.musical else None

    @property
    def quarter(self) -> int | None:
        """The length of a quarter now (µs); None where nobody counts."""
        return round(60_000_000 / self.time_map.beats_per_minute(self._moment)) if self.musical else None

    @property
    def time_map(self) -> TimeMap:
        """Its moments as the file will have them."""
        if self._time_map is None:
            self._time_map = self.grid.time_map(self.setup.metre, self.first_bar)
        return self._time_map

    def _tick(self, us: int, strike: tuple[int, int] | None = None) -> int:
        """The tick for a message that comes at this moment of the session; see the top of this file."""
        assert self._base is not None
        tick = self.grid.tick(us - self._base)
        if tick <= self._last:
            tick = self._last
            if self._struck and (strike is None or strike in self._struck):
                tick += 1
        if tick > self._last:
            self._last = tick
            self._moment = self.grid.us(tick)
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

    def release_all(self, us: int, slots: frozenset[int] | None = None) -> int:
        """All keys of some slots (None: of all) come up; how many did."""
        keys = [key for key in self._down if slots is None or key[0] in slots]
        for slot, pitch in keys:
            self.release(us, slot, pitch)
        return len(keys)

    def sustain(self, us: int, slot: int, down: bool) -> None:
        """The sustain pedal of a slot goes down or comes up."""
        if (slot in self._pedals) is down or self._base is None:
            return
        self._pedals ^= {slot}
        tick = self._tick(us)
        self.kept.append(packed(tick, CONTROLLER | SLOTS[slot], SUSTAIN, 127 if down else 0))
        self._feed(Sustain(self._moment, down, slot))

    def late(self, us: int, slot: int, pitch: int, velocity: int) -> None:
        """A key goes down (velocity 0: comes up), and all that is known is that it was not before `us`. It is not
        judged, and stands on another track of the file. A key that was down comes up.
        """
        if not velocity and self.release(us, slot, pitch):
            return
        if self._base is None:
            self.begin(us)
        assert self._base is not None
        # One tick after the other, as they came.
        tick = max(self.grid.tick(us - self._base), (self.came_late[-1] >> TICK) + 1 if self.came_late else 0)
        self.came_late.append(
            packed(tick, (NOTE_ON if velocity else NOTE_OFF) | SLOTS[slot], pitch, velocity or 64)
        )

    def choose(self, player: str) -> None:
        """Verdicts are wanted for this player from now on."""
        self.players.append(player)
        self._feed(ChoosePlayer(self._moment, player))

    def advance(self, us: int) -> None:
        """Time has passed to this moment of the session, and nothing that comes will be earlier."""
        if self._base is None:
            self._waited = min(max(us - self._since, 0), LONGEST_LEAD)
            return
        if self.over or self._monitor is None or not self._judging:
            return
        self._look = True
        # Only whole ticks that are over count as passed, since what comes next is rounded to the nearest.
        self._monitor.advance(max(self.grid.us(self.grid.tick(us - self._base) - 1), self._moment))

    def judge_no_more(self) -> None:
        """From here on only the notes are kept."""
        if self._judging:
            self.monitor.finish()
            self._look = True
            self._judging = False
            self.judged_until = self._moment

    def give_up(self) -> None:
        """Judging has failed; from here on only the notes are kept, and nothing of the monitor is trusted."""
        if self._judging:
            self.judged_until = self._moment
        self._judging, self._settled = False, None

    def finish(self, us: int) -> None:
        """The take is over; keys that are down come up."""
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
        """How it stands. Before the first note of a take in which the pedals were set they can be moved already."""
        made = self.monitor.snapshot()
        if self._base is None and self.setup.setting is not None:
            return replace(made, us=max(made.us, self._waited))
        return made

    def frozen(self) -> Take:
        """The take as far as it is now, for another thread to save a passage of; what grows on is shared."""
        copy = copy_of(self)
        copy.grid = deepcopy(self.grid)
        copy.players = list(self.players)
        return copy

    def _feed(self, event: Event) -> tuple[Finding, ...]:
        if self._monitor is None or self._settled is None or not self._judging:
            return ()
        found = self._monitor.feed(event)
        self._settled.found(found)
        return found

    # -- what there is to tell -------------------------------------------------------------------------------

    def news(self) -> tuple[list[Finding], list[Passage]]:
        """Findings and passages that are settled and were not told before."""
        if self._settled is None:
            return [], []
        findings = self._settled.findings(self.over or not self._judging)
        for finding in findings:
            if finding.withdrawn:  # the figure that it is part of was recognised
                self.marks = [mark for mark in self.marks if mark.id != finding.id]
            else:
                self.marks.append(self._mark(finding))
        passages: list[Passage] = []
        if self._look:
            self._look = False
            passages = self._settled.passages()
        return findings, passages

    def question(self, passage: Passage) -> Question:
        """What is to be asked about a passage that is over, for the player who was chosen last."""
        setup = self.setup
        first = bisect_left(self.kept, self.grid.tick(passage.start) << TICK)
        context = max(0, first - MOST_CONTEXT)
        return Question(
            self.number,
            self.passages.index(passage) + 1,
            passage,
            tuple(self.events(context, self.grid.tick(passage.end))),
            self.time_map,
            self.musical,
            replace(setup, player=self.players[-1], setting=setup.setting if context == 0 else None),
            setup.middle_c,
        )

    def events(self, first: int, end: int) -> Iterator[Event]:
        """What was kept, from the message of this number to the tick `end`, as a saved file has it."""
        for word in self.kept[first : bisect_left(self.kept, end + 1 << TICK)]:
            tick, status, pitch, value = unpacked(word)
            us, channel = self.grid.us(tick), status & 15
            if status < NOTE_ON:
                yield NoteOff(us, pitch, channel)
            elif status < CONTROLLER:
                yield NoteOn(us, pitch, value, channel)
            else:
                yield Sustain(us, value >= 64, channel)

    def _mark(self, finding: Finding) -> KeptFinding:
        return KeptFinding(
            finding.us,
            finding.id,
            finding.revised,
            finding.kind,
            finding.verdict,
            finding.audible,
            finding.note,
            finding.player,
            self._describe(finding),
        )
