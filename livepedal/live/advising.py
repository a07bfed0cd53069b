"""Advice on passages while music goes on: how fast each could be, how it is best spelled, what mends it; and
whether it is too much at once, which only the pedal changes tell (model/load.py), and so no running verdict.

That takes from tenths of a second to seconds of computing, and Python runs one thread at a time, so it is
done in a process of its own, which also steps back for others (`nice`). The consumer only hands over what was
played, as it is kept for the file; a thread of the parent sends it across and waits for answers.

    consumer   ask()      slices of the take's messages, and the time map, into a queue; a replay, events
    thread     _serve     starts the process with the first music, so that it is ready when a passage is over
    process    _work      gathers, tries a tempo, plans, tries other remedies; sends an `Advice` for each step

The tempo comes first: it is what is waited for, and planning takes longer.

Nothing here can stop a session: what goes wrong is told in one line, and after `MOST_FAILURES` of them there
is no more advice. The process ends with its parent, however that ends, since the pipe between them does.
"""

from __future__ import annotations

import contextlib
import os
import queue
import signal
import threading
import time
from array import array
from bisect import bisect_left
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from multiprocessing import get_context
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess

from livepedal.advice.asides import asides_of, setting_for_glissandi
from livepedal.advice.burden import burden_finding, burdens_of
from livepedal.advice.judging import attacks_of, beat_in, onsets_of, plan_for_all
from livepedal.advice.remedies import Remedy, RemedyKind, remedies_of
from livepedal.advice.telling import Teller, percent_of
from livepedal.harp import Figures, Instrument, Setting
from livepedal.live.take import Take
from livepedal.model.findings import Finding, Layer, Passage
from livepedal.model.monitor import Monitor
from livepedal.model.plan import PedalChange
from livepedal.model.shares import share_out
from livepedal.model.why_hands import clause
from livepedal.music.attacks import Gathered
from livepedal.music.events import Event, NoteOff, NoteOn, SetPedals
from livepedal.music.timemap import TimeMap
from livepedal.sources.text import clean
from livepedal.views import words
from livepedal.views.history import SPELLED

MOST_ATTACKS = 1_500  # of a passage; a longer one is left to `check`, as it would hold up the next ones
MOST_CONTEXT = 120  # messages before the passage that are gone back to; feet become quiet in the rest anyway
MOST_FAILURES = 3
MOST_TOLD = 6  # pedal changes that a line names
MOST_WAITING = 8  # passages; of older ones nobody waits for advice any more
NICE = 5
NOTE_ON, NOTE_OFF = 0x90, 0x80
TOO_LONG = "too long for advice while playing; livepedal check --remedies tells of the file"


@dataclass(frozen=True, slots=True)
class Question:
    """A passage that is over. ticks, words: the messages of the take (`Kept`) from some moment before it to its
    end, or `events` instead of them; setting: where the pedals stood before all that, if known; bars: whether
    the time map's bars mean anything.
    """

    take: int
    number: int
    passage: Passage
    ticks: array[int]
    words: array[int]
    time_map: TimeMap
    bars: bool
    figures: Figures
    instrument: Instrument
    player: str
    only: tuple[Layer, ...]
    setting: Setting | None
    middle_c: str
    events: tuple[Event, ...] = ()


@dataclass(frozen=True, slots=True)
class Planned:
    """What the pedal changes tell of a passage. setting: how the pedals are to stand before it; passage: with
    its verdict, too much at once included; too_much: the finding, where the player has that.
    """

    setting: Setting
    passage: Passage
    too_much: Finding | None = None


@dataclass(frozen=True, slots=True)
class Advice:
    """What is known so far of one passage: the lines that are new, and all remedies up to now, in the order in
    which they were found. passage_number, take: counted from 1; planned: once that is worked out; verdict: a line
    for who has told the passage already, where too much at once has made it worse; last: whether there is no
    more to come.
    """

    passage_number: int
    lines: tuple[str, ...]
    remedies: tuple[Remedy, ...] = ()
    take: int = 1
    last: bool = False
    planned: Planned | None = None
    verdict: str = ""


def question_of(take: Take, passage: Passage, number: int, player: str) -> Question:
    """The question about a passage of a take that is over; `number`: which of the take's, from 1."""
    setup, kept = take.setup, take.kept
    first = bisect_left(kept.ticks, take.grid.tick(passage.start))
    last = bisect_left(kept.ticks, take.grid.tick(passage.end) + 1)
    context = max(0, first - MOST_CONTEXT)
    return Question(
        take.number,
        number,
        passage,
        kept.ticks[context:last],
        kept.words[context:last],
        take.time_map,
        take.musical,
        setup.figures,
        setup.instrument,
        player,
        setup.only,
        setup.start if context == 0 else None,
        setup.middle_c,
    )


# -- in the process ----------------------------------------------------------------------------------------------


def advise(question: Question) -> Iterator[Advice]:
    """Advice on a passage, each step as soon as it is done: the fastest tempo; the best spelling, and whether it
    is too much at once; the other remedies.
    """
    passage, number, take = question.passage, question.number, question.take
    events = tuple(_events(question))
    attacks = attacks_of(events, question.figures)
    context = tuple(one for one in attacks if one.us < passage.start)
    attacks = attacks[len(context) :]
    if not attacks:
        yield Advice(number, (), take=take, last=True)
        return
    teller = Teller(question.instrument, question.time_map if question.bars else None, question.middle_c)
    head = f"passage {number}, {teller.bars(passage.start, passage.end)}"
    if len(attacks) > MOST_ATTACKS:
        yield Advice(number, (f"{head}: {TOO_LONG}",), take=take, last=True)
        return
    remedies = remedies_of(
        attacks,
        question.figures,
        question.instrument,
        question.player,
        context=context,
        only=question.only,
        setting=question.setting,
    )
    first = next(remedies, None)
    found = [] if first is None else [first]
    quick = first is not None and first.kind is RemedyKind.TEMPO
    if first is not None and quick:
        yield Advice(number, (f"{head}: playable at {_tempo(first, teller)}",), tuple(found), take)
    planned, text = _planned(question, events, (*context, *attacks), attacks[0].us, teller)
    verdict = "" if planned.too_much is None else f"{head}: {_verdict_of(planned)}"
    yield Advice(number, (f"{head}: {text}",), tuple(found), take, planned=planned, verdict=verdict)
    found += remedies
    others = found[1:] if quick else found
    lines = []
    if others:
        best = min(others, key=lambda remedy: remedy.cost)
        lines.append(f"{head}: {'or ' if quick else 'playable: '}{teller.what(best)}")
    yield Advice(number, tuple(lines), tuple(found), take, last=True, planned=planned)


def shortly(texts: Sequence[str]) -> tuple[str, ...]:
    """What is told of one passage, for a screen: all that makes it playable in one line, before the rest."""
    mends = [text for text in texts if text.startswith(("playable", "or "))]
    rest = [text for text in texts if text not in mends]
    return (" · ".join(mends), *rest) if mends else tuple(rest)


def _events(question: Question) -> Iterator[Event]:
    """As a saved file would have them."""
    yield from question.events
    us = question.time_map.us
    for tick, word in zip(question.ticks, question.words, strict=True):
        status, pitch, velocity = word >> 16, word >> 8 & 0x7F, word & 0x7F
        if status & 0xF0 == NOTE_ON:
            yield NoteOn(us(tick), pitch, velocity, status & 15)
        elif status & 0xF0 == NOTE_OFF:
            yield NoteOff(us(tick), pitch, status & 15)


def _tempo(remedy: Remedy, teller: Teller) -> str:
    """The tempo of a remedy for the whole passage."""
    assert remedy.ratio is not None
    percent = f"{percent_of(remedy.ratio)} of the tempo"
    bpm, written = teller.bpm(remedy), teller.steady(remedy.start, remedy.end)
    if bpm is None or written is None:
        return percent + teller.heard(remedy, None)
    return f"♩ = {bpm} instead of {round(written)} ({percent}){teller.heard(remedy, written)}"


def _verdict_of(planned: Planned) -> str:
    """What feet and hands together come to: "virtuoso: too much at once: ..."."""
    assert planned.too_much is not None
    return f"{planned.passage.verdict.word}: {clause(planned.too_much)}"


def _planned(
    question: Question, events: Sequence[Event], attacks: tuple[Gathered, ...], start: int, teller: Teller
) -> tuple[Planned, str]:
    """The setting before the passage, which starts at `start` (µs), and its pedal changes, with the spelling that
    takes fewest; from them whether it is too much at once, as `check` judges it (advice/judging.py).
    """
    figures, instrument, player = question.figures, question.instrument, question.player
    monitor = Monitor(figures, instrument, player, question.only)
    if question.setting is not None:
        monitor.feed(SetPedals(0, question.setting))
    for event in events:
        monitor.feed(event)
    monitor.finish()
    beats = beat_in(question.time_map) if question.bars else None
    plans = plan_for_all(attacks, figures, instrument, player, question.setting, monitor.troubles, beats)
    who = next(number for number, one in enumerate(monitor.players) if one.name == player)
    shares = share_out([one.attack for one in attacks], monitor.players[who], instrument)
    passage, too_much = question.passage, None
    if not question.only or Layer.LOAD in question.only:
        (burden,) = burdens_of((passage,), plans, shares, monitor.players, figures)
        passage = burden.heavier
        # Findings of the monitor count from 1 upwards; no other one of the passage has this number.
        too_much = burden_finding(burden, who, player, shares, -question.number)
    plan = plans[who]
    setting = setting_for_glissandi(
        plan.setting,
        asides_of(shares, onsets_of(events, figures), plan, monitor.players[who], figures, instrument),
    )
    changes: list[PedalChange] = []
    for change in plan.changes:
        if change.attack_us <= start:
            setting = setting.replace(change.pedal, change.goal)
        else:
            changes.append(change)
    return Planned(setting, passage, too_much), f"{SPELLED} {setting}, {_changes(changes, teller)}"


def _changes(changes: Sequence[PedalChange], teller: Teller) -> str:
    if not changes:
        return "with no pedal change"
    told = [f"{words.change_name(one)} ({teller.at(one.us)})" for one in changes[:MOST_TOLD]]
    more = f" and {len(changes) - MOST_TOLD} more" if len(changes) > MOST_TOLD else ""
    return f"with {words.counted(len(changes), 'pedal change')}: {', '.join(told)}{more}"


def _work(pipe: Connection) -> None:
    """The process: questions in, advice or a sentence about a failure out, until the pipe is closed."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C ends the session, which then ends this
    with contextlib.suppress(AttributeError, OSError):
        os.nice(NICE)
    with contextlib.suppress(EOFError, OSError):
        while True:
            question: Question = pipe.recv()
            try:
                for advice in advise(question):
                    pipe.send(advice)
            except OSError:
                raise  # nobody is there any more
            except Exception as error:
                pipe.send(f"{type(error).__name__}: {error}")


# -- in the session's process ------------------------------------------------------------------------------------


class Advisor:
    """Asks the process, and hands on what it says.

    tell: called with each Advice, from another thread; say: called with a sentence when something failed; done:
    with a take and a passage of which no more will be said; patient: somebody waits for all of it, so that nothing is
    passed over.
    """

    def __init__(
        self,
        tell: Callable[[Advice], None],
        say: Callable[[str], None],
        done: Callable[[int, int], None] = lambda take, number: None,
        *,
        patient: bool = False,
    ) -> None:
        self._tell = tell
        self._say = say
        self._done = done
        self._patient = patient
        self._queue: queue.SimpleQueue[Question | None] = queue.SimpleQueue()
        self._thread: threading.Thread | None = None
        self._process: BaseProcess | None = None
        self._pipe: Connection | None = None
        self._failures = 0
        self._asked = 0  # questions, and how many of them are done with
        self._answered = 0
        self._ending = False

    def wake(self) -> None:
        """There is music: have the process ready. Returns at once."""
        if self._thread is None and not self._ending:
            self._thread = threading.Thread(target=self._serve, name="livepedal-advice", daemon=True)
            self._thread.start()

    def over(self, take: Take, passage: Passage, player: str) -> None:
        """A passage of a take is over: have it looked at. Returns at once, and never fails."""
        number = 0
        try:
            number = take.monitor.passages.index(passage) + 1
            self.ask(question_of(take, passage, number, player))
        except Exception as error:
            self._done(take.number, number)
            self._failed(f"{type(error).__name__}: {error}")

    def ask(self, question: Question) -> None:
        """Returns at once."""
        self.wake()
        self._asked += 1
        self._queue.put(question)

    @property
    def process_id(self) -> int | None:
        """Of the process, while there is one."""
        return None if self._process is None else self._process.pid

    def end(self, wait: float = 0.0) -> None:
        """No more advice; what is being worked out is waited for so many seconds."""
        until = time.monotonic() + wait
        while self._answered < self._asked and time.monotonic() < until:
            time.sleep(0.01)
        self._ending = True
        self._queue.put(None)
        process, pipe = self._process, self._pipe
        if process is not None:
            process.kill()  # it would only notice when it is done with what it is at
            process.join(5)
        if self._thread is not None and self._thread.is_alive():  # Ctrl-C may come before it was started
            self._thread.join(5)
        if pipe is not None:
            pipe.close()

    def _serve(self) -> None:
        with contextlib.suppress(AttributeError):  # not on Windows
            # Ctrl-C in a terminal reaches the process too, before it can say that it does not care.
            signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
        try:
            self._start()
        except Exception as error:
            self._failed(f"{type(error).__name__}: {error}")
        while not self._ending and (question := self._queue.get()) is not None:
            try:
                # Only of the latest passages is advice still of use while somebody plays.
                late = self._queue.qsize() >= MOST_WAITING and not self._patient
                if self._failures < MOST_FAILURES and not late:
                    self._answer(question)
            except Exception as error:
                if not self._ending:
                    self._stop()
                    self._failed("the process that works it out ended" if _gone(error) else f"{error}")
            self._done(question.take, question.number)
            self._answered += 1

    def _answer(self, question: Question) -> None:
        if self._process is None:
            self._start()
        assert self._pipe is not None
        self._pipe.send(question)
        while True:
            said: Advice | str = self._pipe.recv()
            if isinstance(said, str):
                self._failed(said)
                return
            self._tell(said)
            if said.last:
                return

    def _start(self) -> None:
        context = get_context("spawn")
        self._pipe, theirs = context.Pipe()
        process = context.Process(target=_work, args=(theirs,), name="livepedal-advice", daemon=True)
        process.start()
        theirs.close()
        self._process = process
        if self._ending:
            process.kill()

    def _stop(self) -> None:
        process, pipe = self._process, self._pipe
        self._process = self._pipe = None
        if process is not None:
            process.kill()
            process.join(5)
        if pipe is not None:
            pipe.close()

    def _failed(self, why: str) -> None:
        self._failures += 1
        more = "; there is no more of it" if self._failures >= MOST_FAILURES else ""
        self._say(f"no advice on this passage ({clean(why)}); all else goes on{more}")


class AdvisorHere(Advisor):
    """Advice at once, while whoever asks waits for it: for pictures, and wherever the moment has to be known."""

    def wake(self) -> None:
        pass

    def ask(self, question: Question) -> None:
        for advice in advise(question):
            self._tell(advice)
        self._done(question.take, question.number)


def _gone(error: Exception) -> bool:
    return isinstance(error, EOFError | OSError)
