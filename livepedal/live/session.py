"""A live session without its threads: messages and commands with their moments go in, takes and news come out.

Notes and sustain pedals go to the take that is being played, the sequencer's clock steers its bars and beats, and
everything else is counted and dropped. The session is a state machine: the same messages and commands at the same
moments make the same takes, whether they come from a port or from a journal. Letting time pass in between (`advance`)
only brings the news earlier.

A new take begins when the player starts afresh, and when a sequencer starts or continues, because bars are then
counted from somewhere else, and a file has only one way of counting.
"""

from __future__ import annotations

import contextlib
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

from livepedal.errors import LivepedalError
from livepedal.harp import Setting
from livepedal.live.grid import bar_ticks
from livepedal.live.piece import Piece
from livepedal.live.question import Question
from livepedal.live.setup import Setup, stem_of
from livepedal.live.stay import Stay
from livepedal.live.take import SLOTS, Take
from livepedal.live.transport import PULSE_TICKS, Beat, Started, Taps, Transport
from livepedal.model.findings import Finding
from livepedal.music.tracks import DRUM_CHANNEL
from livepedal.music.wording import counted
from livepedal.sources.journal import Word
from livepedal.sources.ports import wire
from livepedal.sources.ports.wire import Short, Wire
from livepedal.sources.raw import CONTROLLER, LET_GO, NOTE_ON, RESET_CONTROLLERS, SUSTAIN


@dataclass(frozen=True, slots=True)
class News:
    """What is settled about a piece: a finding, a passage that is over or is to be looked at again, or a sentence."""

    piece: Piece
    what: Finding | Question | str


class Session:
    """What is heard, in order. Moments are µs since the start of the session; time never goes back.

    Attributes:
        now: the latest moment.
        messages: how many have come.
        take: the one that is being played.
        finished: the takes that are over and have notes, for whoever saves them.
        to_keep: the passages that somebody wants as a file: the take, and the number of its passage from 0.
        unkept: whether a passage that was to be a file is in that of its take alone, since it was not judged.
        paused: whether what comes is left out of the takes.
        in_pauses: notes that were played while paused; only the journal has them.
        ignored: how many messages of each kind are not music for a harp.

    Args:
        failed: takes what goes wrong in judging, which costs the rest of the take its verdicts; None: it is raised.
    """

    def __init__(self, setup: Setup, *, failed: Callable[[Exception], None] | None = None) -> None:
        self.setup = setup
        self.judged = True
        self._failed = failed
        self.now = 0
        self.messages = 0
        self.finished: list[Take] = []
        self.to_keep: list[tuple[Take, int]] = []
        self.unkept = self.paused = False
        self.in_pauses = 0
        self._wires: dict[int, Wire] = {}
        self._slots: dict[tuple[int, int], int] = {}  # (source, channel) -> slot
        self._stay: Stay | None = None
        self._transport = Transport()
        self._taps = Taps()
        self._tempo = setup.tempo
        self.ignored: Counter[str] = Counter()
        self._news: list[News] = []
        self._bar_tick = 0  # tick of the sequencer's song at which the take's first bar starts
        self._late: int | None = None  # notes that came late, while messages do
        self._still = 0  # µs for which the process was suspended
        self._restarted = False  # a sequencer has started in this pause
        self.take = Take(1, setup, self._tempo, failed=failed)

    @property
    def clocked(self) -> bool:
        """Whether a sequencer's clock is being followed."""
        return self._transport.running

    # -- in --------------------------------------------------------------------------------------------------

    def message(self, us: int, source: int, data: bytes) -> tuple[Finding, ...]:
        """Take bytes from a source; the findings that they make or revise at once."""
        us = self.now = max(us, self.now)
        self.messages += 1
        found: tuple[Finding, ...] = ()
        for short in self._wires.setdefault(source, Wire(self.ignored)).feed(data):
            found += self._short(us, source, short)
        self._gather()
        return found

    def command(self, us: int, word: str, argument: str = "") -> None:
        """Carry out a command; one that only a newer livepedal knows is ignored."""
        us = self.now = max(us, self.now)
        match word:
            case Word.AFRESH:
                self._next_take(us)
                self._tell(f"new start: this is take {self.take.number}")
            case Word.PLAYER:
                self._choose(argument)
            case Word.TAP:
                self._tap(us)
            case Word.KEEP:
                self._keep()
            case Word.PAUSE:
                self._let_go(us, self._slots.values())
                self.paused = True
            case Word.RESUME:
                self.paused = False
                if self._restarted and self._transport.running:
                    self._start_at(us, self._transport.pulses)
                self._restarted = False
            case Word.LATE:
                self._late = 0
                self._still = int(argument) if argument.isdigit() else 0
                if self._still:  # keys that came up meanwhile may not have been reported
                    self._let_go(us, self._slots.values())
            case Word.ON_TIME:
                self._on_time()
            case Word.PEDALS:
                with contextlib.suppress(LivepedalError):  # a setting that only a newer livepedal knows
                    self._next_take(us, Setting.parse(argument))
            case Word.STAY:
                with contextlib.suppress(LivepedalError):
                    self._stay = Stay(argument, self.setup.middle_c) if argument else None
            case Word.GONE:
                if argument.isdigit():
                    self._wires.pop(int(argument), None)  # half a message is never completed
                    self._let_source_go(us, int(argument))
        self._gather()

    def _choose(self, player: str) -> None:
        if player in self.take.players_known:
            self.take.choose(player)
            self._tell(f"judged for the {player} player from now on")
            if question := self.take.last_question():
                self._news.append(News(self.take, question))

    def _tap(self, us: int) -> None:
        period = self._taps.tap(us)
        if period is None:
            self._tell("tapped once; tap again a crotchet later to set the tempo")
            return
        self._tempo = period
        self.take.steer(us, self.take.next_beat(us), period, period)
        self._tell(f"tempo {60_000_000 / period:.0f} crotchets a minute, as tapped")

    def advance(self, us: int) -> None:
        """Let time pass; nothing that comes later is earlier than this."""
        self.now = max(us, self.now)
        self.take.advance(self.now)
        self._gather()

    def judge_no_more(self) -> None:
        """From here on only keep the notes, for the files."""
        self.judged = False
        self.take.judge_no_more()
        self._gather()

    def finish(self, us: int) -> None:
        """End the session."""
        self.now = max(us, self.now)
        self._on_time()
        self._end_take(self.now)

    def _short(self, us: int, source: int, short: Short) -> tuple[Finding, ...]:
        status = short.status
        if status >= wire.SYSEX:
            return self._system(us, source, short)
        channel = status & 15
        kind = status & 0xF0
        if kind > CONTROLLER or kind == wire.POLY_PRESSURE:
            self.ignored[wire.kind_of(status)] += 1
            return ()
        channels = self.setup.channels
        if not (channel + 1 in channels if channels else channel != DRUM_CHANNEL):
            self.ignored["drums (channel 10)" if channel == DRUM_CHANNEL else "other channels"] += 1
            return ()
        slot = self._slot(source, channel)
        if self.paused:
            self.ignored["messages while paused"] += 1
            self.in_pauses += kind == NOTE_ON and short.data2 > 0
            return ()
        if kind == CONTROLLER:
            self._controller(us, slot, short)
            return ()
        if self._late is not None:
            struck = kind == NOTE_ON and short.data2 > 0
            self._late += struck
            self.ignored["notes that came late"] += struck
            self.take.late(us, slot, short.data1, short.data2 if struck else 0)
            return ()
        if kind == NOTE_ON and short.data2:
            if self._stay is not None and (remark := self._stay.struck(short.data1)):
                self._tell(remark)
            return self.take.strike(us, slot, short.data1, short.data2)
        if not self.take.release(us, slot, short.data1):
            self.ignored["note-offs without a note"] += 1
        return ()

    def _controller(self, us: int, slot: int, short: Short) -> None:
        number, value = short.data1, short.data2
        if number == SUSTAIN:
            self.take.sustain(us, slot, value >= 64)
        elif number == RESET_CONTROLLERS:
            self.take.sustain(us, slot, False)
        elif number in LET_GO:
            self.take.release_all(us, frozenset({slot}))
        else:
            self.ignored[wire.kind_of(short.status)] += 1

    def _system(self, us: int, source: int, short: Short) -> tuple[Finding, ...]:
        if short.status == wire.SYSTEM_RESET:
            self._let_source_go(us, source)
        elif short.status >= wire.SONG_POSITION:
            sign = self._transport.take(us, source, short)
            if isinstance(sign, Started) and self.paused:
                self._restarted = True  # bars are counted from there once the pause is over
            elif isinstance(sign, Started):
                self._start_at(us, sign.pulses)
            elif isinstance(sign, Beat) and not self._restarted and self._late is None:
                self._tempo = sign.period
                beat = sign.pulses * PULSE_TICKS - self._bar_tick
                self.take.steer(us, beat + self.take.lead, sign.until, sign.period)
        self.ignored[wire.kind_of(short.status)] += 1
        return ()

    def _slot(self, source: int, channel: int) -> int:
        """The slot of a keyboard, which is a channel of the file; more than fifteen share them."""
        return self._slots.setdefault((source, channel), len(self._slots) % len(SLOTS))

    def _on_time(self) -> None:
        """From here on messages were played when they say."""
        if self._late:
            still = f" after livepedal was suspended for {self._still / 1e6:.1f} s" if self._still else ""
            self._tell(f"{counted(self._late, 'note')} came late{still}: in the file, but not judged")
        self._late = None

    def _let_source_go(self, us: int, source: int) -> None:
        self._let_go(us, (slot for (owner, _), slot in self._slots.items() if owner == source))

    def _let_go(self, us: int, slots: Iterable[int]) -> None:
        """Release all keys and pedals of these slots."""
        slots = frozenset(slots)
        self.take.release_all(us, slots)
        for slot in slots:
            self.take.sustain(us, slot, False)

    # -- takes and passages ----------------------------------------------------------------------------------

    def _start_at(self, us: int, pulses: int) -> None:
        """Begin a take where a sequencer starts to play; its first bar is the one that the music is in."""
        self._next_take(us)
        bar = bar_ticks(self.setup.metre)
        number, ticks = divmod(pulses * PULSE_TICKS, bar)
        self._bar_tick = number * bar
        self.take.musical = True
        self.take.begin(us, number + 1, ticks)

    def _next_take(self, us: int, start: Setting | None = None) -> None:
        """Begin the next take; `start`: how the pedals stand, unless as at the start of the session."""
        before = self.take
        self._end_take(us)
        setting = self.setup.setting if start is None else start
        setup = replace(self.setup, player=before.players[-1], setting=setting)
        self.take = Take(before.number + 1, setup, self._tempo, us, failed=self._failed)
        if not self.judged:
            self.take.judge_no_more()

    def _end_take(self, us: int) -> None:
        take = self.take
        if take.over:
            return
        take.finish(us)
        self._gather()
        self.unkept |= len(take.closed) in take.wanted
        if take.notes or take.came_late:
            self.finished.append(take)

    def _keep(self) -> None:
        take = self.take
        if take.judged_until is not None:
            self._tell(
                "a passage that is not judged cannot be kept alone; the file of the take has everything"
            )
            self.unkept = True
            return
        over = len(take.closed)
        number = over if take.passage_open else over - 1
        if number < 0:
            self._tell("there is no passage to keep yet")
            return
        name = f"{stem_of(self.setup.started, take.number, number)}.mid"
        if number in take.wanted:
            self._tell(f"this passage is already kept, as {name}")
            return
        self._tell(f"kept as {name}{' when it is over' if number == over else ''}")
        take.wanted.add(number)
        if number < over:
            self.to_keep.append((take, number))

    def _tell(self, text: str) -> None:
        self._news.append(News(self.take, text))

    def _gather(self) -> None:
        for what in self.take.news():
            self._news.append(News(self.take, what))
            if isinstance(what, Question):
                if what.number - 1 in self.take.wanted:
                    self.to_keep.append((self.take, what.number - 1))
                if self._stay is not None:
                    self._stay.over()

    def news(self) -> list[News]:
        """What is settled since the last call, in order of time."""
        news, self._news = self._news, []
        return news
