"""Listening: ports, threads, journal and clock around a `Session`. What runs where stands in this package's
docstring.

The thread that a message comes in on stamps it and puts it into a queue. The consumer takes it out, writes it
into the journal and only then lets the session judge it; nothing it does waits for a screen or a disk, except
for handing the operating system a line. Whoever draws gets the last snapshot, and asks for a new one, by way
of the queue, when a frame is due. The journal is brought to the disk, and files are written, by the clerk's
threads.

The consumer lets time pass a little behind the clock, for a message may have been stamped but not be in the
queue yet.
"""

from __future__ import annotations

import contextlib
import queue
import sys
import threading
import time
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from livepedal.errors import LivepedalError
from livepedal.live.advising import Advice
from livepedal.live.advisor import Advisor
from livepedal.live.chapters import Chapters
from livepedal.live.recover import Written, save_passage, save_take, session_of
from livepedal.live.session import News, Session
from livepedal.live.take import Setup
from livepedal.model.findings import Finding, Passage, Snapshot
from livepedal.music.timemap import Place, TimeMap
from livepedal.sources.journal import JournalWriter, Word
from livepedal.sources.ports import Change, Inputs, PortNews, Receive
from livepedal.sources.stamps import Alive, Stamps
from livepedal.sources.text import clean
from livepedal.views.dashboard import Scene
from livepedal.views.desk import LONGEST_TYPED, Act, Desk, Page, Wish, press, set_to, unheard, wishes_in
from livepedal.views.history import History, nowhere
from livepedal.views.lines import Line, line
from livepedal.views.plain import finding_line, passage_line
from livepedal.views.signs import FULL, Signs

SLACK = 20_000_000  # ns that time lags behind the clock
WATCH = 0.2  # seconds between two looks at the ports
SYNC = 1.0  # seconds between two times that the journal is brought to the disk
_SWITCH = (
    0.0005  # seconds: Python's threads take turns so often, so that drawing holds up nobody (5 ms by default)
)
_LOOK = 50_000_000  # ns between two looks at what is settled while messages keep coming
_FRAME = 42_000_000  # ns after a frame that the next one is prepared, while something is played
_IDLE = 150_000_000  # and while nothing is
_SOON = 0.004  # seconds in which a snapshot that was asked for has come
_MEANWHILE = 0.02  # seconds between two looks whether anything was played
_STATUS = 8.0  # seconds that something said stays on the dashboard
_LAST_ADVICE = 1.0  # seconds that advice on the last passages is waited for at the end
_PAUSE = 0.02  # seconds without a message after which time is let pass
_COMMAND, _SNAP = -1, -2  # in the place of a source
PAUSED = "paused: not judged and not in the file, only in the journal; space goes on"
ACTS = (Act.PAUSE, Act.KEEP, Act.PEDALS, Act.PLAYER, Act.TAP, Act.AFRESH, Act.QUIT)


@dataclass(frozen=True, slots=True)
class _Shown:
    """What the consumer hands to whoever draws. ignored: kinds of messages and how many, the most frequent
    first.
    """

    snapshot: Snapshot
    time_map: TimeMap | None
    messages: int
    ignored: tuple[tuple[str, int], ...]
    clocked: bool
    paused: bool
    take: int


class Listener:
    """A session at live ports. A `Show` for the dashboard, and a source of lines for line mode."""

    def __init__(
        self,
        setup: Setup,
        journal: JournalWriter,
        started: str,
        folder: Path,
        *,
        inputs: Inputs | None = None,
        signs: Signs = FULL,
        clock: Callable[[], int] = time.monotonic_ns,
        advises: bool = False,
    ) -> None:
        """started: date and time for the names of files; folder: where they go; clock: ns that never go back;
        advises: have remedies looked for, in a process beside.
        """
        self.session: Session = session_of(setup)
        self.journal = journal
        self.started = started
        self.folder = folder
        self.signs = signs
        self.middle_c = setup.middle_c
        self.written: list[Written] = []
        self.failed: list[str] = []  # why files could not be written, a sentence each
        self.fault: Exception | None = None  # what went wrong in judging, if anything did
        self.advice: deque[Advice] = deque(maxlen=64)  # the latest last
        self._advisor = Advisor(self._advised, self._say, self._done) if advises else None
        self._inputs = inputs
        self._names: dict[int, str] = {}
        self._clock = clock
        self._zero = clock()
        self._alive = Alive(self._zero)
        self._queue: queue.SimpleQueue[tuple[int, int, Sequence[int] | tuple[str, ...]]] = queue.SimpleQueue()
        self._lines: deque[str] = deque(maxlen=10_000)
        self.desk = Desk()
        self._chapters = Chapters()
        self._pausing = False  # as the keys have it; the session hears of it a moment later
        self._setting_next = False  # in line mode, the next line that is typed is a setting
        self._happened = 0
        self._asked = False  # for a snapshot, by the thread that draws
        self._drawn_at = self._snapped_at = 0
        self._shown = self._look()
        self._ending = threading.Event()
        self._jobs: queue.SimpleQueue[Callable[[], Written] | None] = queue.SimpleQueue()
        self._status = ""
        self._status_at = 0.0
        self._told_problem: str | None = None
        self._threads: list[threading.Thread] = []
        self._switch = sys.getswitchinterval()
        self._count = 0
        self._place_of: tuple[object, Callable[[int], Place | None]] | None = None

    @property
    def history(self) -> History:
        """The passages that are over."""
        return self._chapters.history

    # -- starting and ending ---------------------------------------------------------------------------------

    def receiver(self, source: int) -> Receive:
        """What takes the messages of a source, in whatever thread: it stamps and enqueues, nothing else."""
        put, clock = self._queue.put, self._clock
        timed = self._inputs is None or self._inputs.backend.timed
        stamp = Stamps(self._alive, timed).stamp

        def receive(data: Sequence[int], delta: float | None = None) -> None:
            put((stamp(delta, clock()).ns, source, data))

        return receive

    def name(self, source: int, name: str) -> None:
        """A source has a name; it goes into the journal."""
        self._names[source] = name
        self._command(Word.PORT, f"{source} {name}")

    def start(self) -> None:
        """Start the threads."""
        sys.setswitchinterval(_SWITCH)
        parts: list[tuple[str, Callable[[], None]]] = [
            ("consumer", self._consume),
            ("sync", self._sync),
            ("clerk", self._clerk),
        ]
        if self._inputs is not None:
            parts.append(("ports", self._watch))
        for name, run in parts:
            thread = threading.Thread(target=run, name=f"livepedal-{name}", daemon=True)
            thread.start()
            self._threads.append(thread)

    def end(self) -> None:
        """Listening is over: close the ports, judge what is in the queue, write the files, close the journal."""
        if self._ending.is_set():
            return
        self._ending.set()
        for thread in self._threads:
            if thread.name.endswith("-ports"):
                thread.join(10)
        if self._inputs is not None:
            self._inputs.close()
        self._command(Word.END)
        for thread in self._threads:
            if not thread.name.endswith(("-ports", "-sync")):
                thread.join()
        if self._advisor is not None:
            self._advisor.end(_LAST_ADVICE)
        self._end_journal()
        sys.setswitchinterval(self._switch)

    def _end_journal(self) -> None:
        saved = ", ".join(one.path.name for one in self.written)
        if self.failed or self.fault is not None:
            saved = ""  # then the journal is the only place where the music is, and has to be found again
        else:
            self.journal.command(self.session.now, Word.END, saved)
        self.journal.close()

    # -- the consumer ----------------------------------------------------------------------------------------

    def _consume(self) -> None:
        known = self._zero
        looked = retried = self._clock()
        while True:
            try:
                stamp, source, data = self._queue.get(timeout=_PAUSE)
            except queue.Empty:
                pass
            else:
                known = max(known, stamp)
                if source == _SNAP:
                    self._snap()
                elif source == _COMMAND:
                    word, argument = str(data[0]), str(data[1])
                    if word == Word.END:
                        break
                    self._obey(stamp, word, argument)
                else:
                    self._hear(stamp, source, bytes(data))  # type: ignore[arg-type]
            now = self._clock()
            idle = self._queue.empty()
            if idle or now - looked > _LOOK:
                looked = now
                # What still waits was played when its stamp says: on a busy machine that is long ago, and time that
                # had passed it already would move it, and make another rhythm of it.
                known = now if idle else known
                self._pass_time(known)
                if now - retried > 1_000_000_000:
                    retried = now
                    self.journal.retry()
                    self._report_problem()
        self._pass_time(self._clock())
        self._guarded(lambda: self.session.finish((self._clock() - self._zero) // 1000))
        self._settle()
        self._snap()
        self._jobs.put(None)

    def _hear(self, stamp: int, source: int, data: bytes) -> None:
        us = self.session.moment((stamp - self._zero) // 1000)
        self.journal.heard(us, source, data)
        self._count += 1
        if self._advisor is not None and self._count == 1:
            self._advisor.wake()
        if self.fault is None:
            try:
                found = self.session.message(us, source, data)
            except Exception as error:
                self._broken(error)
            else:
                self.judged(stamp, found)
        if self.journal.problem != self._told_problem:
            self._report_problem()

    def judged(self, stamp: int, found: tuple[Finding, ...]) -> None:
        """A message that was stamped then has its verdict; for measuring."""

    def _obey(self, stamp: int, word: str, argument: str) -> None:
        us = self.session.moment((stamp - self._zero) // 1000)
        self.journal.command(us, word, argument)
        self._guarded(lambda: self.session.command(us, word, argument))
        self._happened += 1

    def _pass_time(self, now: int) -> None:
        self._guarded(lambda: self.session.advance((now - SLACK - self._zero) // 1000))
        self._settle()

    def _snap(self) -> None:
        self._asked = False
        self._snapped_at = self._clock()
        with contextlib.suppress(Exception):  # drawing an old picture is better than none
            self._shown = self._look()
        if self._count:
            self._count = 0
            self._happened += 1

    def _look(self) -> _Shown:
        session = self.session
        take = session.take
        return _Shown(
            take.snapshot(),
            take.time_map if take.musical else None,
            session.messages,
            tuple(session.ignored.most_common()),
            session.clocked,
            session.paused,
            take.number,
        )

    def _guarded(self, do: Callable[[], None]) -> None:
        if self.fault is None:
            try:
                do()
            except Exception as error:
                self._broken(error)

    def _broken(self, error: Exception) -> None:
        """A fault in the model must not cost any music: go on recording."""
        self.fault = error
        self._say(
            f"judging failed ({type(error).__name__}: {clean(str(error))}); everything is still recorded"
            " in the journal"
        )

    def _settle(self) -> None:
        """Hand on what is settled, and what is to be saved."""
        session = self.session
        for news in session.news():
            self._lines.append(self._line_of(news))
            self._happened += 1
            if self._advisor is not None and isinstance(news.what, Passage):
                self._advisor.over(news.take, news.what, session.player)
        while session.finished:
            take = session.finished.pop(0)
            self._jobs.put(lambda take=take: save_take(take, self.started, self.folder))  # type: ignore[misc]
        while session.to_keep:
            wish = session.to_keep.pop(0)
            take, number = wish.take.frozen(), wish.number
            self._jobs.put(
                lambda take=take, number=number: save_passage(take, number, self.started, self.folder)  # type: ignore[misc]
            )

    def _advised(self, advice: Advice) -> None:
        self.advice.append(advice)
        self._lines.extend(self.signs.write(text) for text in (advice.verdict, *advice.lines) if text)
        self._chapters.advised(advice)
        self._happened += 1

    def _done(self, take: int, number: int) -> None:
        self._chapters.given_up(take, number)
        self._happened += 1

    def _line_of(self, news: News) -> str:
        what = news.what
        if isinstance(what, str):
            self._set_status(what)
            return what
        time_map = news.take.time_map if news.take.musical else None
        if isinstance(what, Finding):
            self._chapters.found(what)
        else:
            place = nowhere if time_map is None else lru_cache(maxsize=256)(time_map.place)
            monitor, number = news.take.monitor, news.take.number
            asked = None
            if self._advisor is not None and what in monitor.passages:
                asked = number, monitor.passages.index(what) + 1
            self._chapters.over(
                what, place, take=number, entry=monitor.entry, player=self.session.player, asked=asked
            )
        if isinstance(what, Finding):
            return finding_line(what, time_map, self.signs, self.middle_c)
        return passage_line(what, time_map, self.signs)

    def _report_problem(self) -> None:
        problem = self.journal.problem
        if problem == self._told_problem:
            return
        if problem is None:
            self._say("the journal can be written again, and nothing is missing in it")
        else:
            self._say(f"the journal cannot be written ({problem}); playing goes on, make room on the disk")
        self._told_problem = problem

    # -- the clerk, and the keeper of the ports --------------------------------------------------------------

    def _sync(self) -> None:
        while not self._ending.wait(SYNC):
            self.journal.sync()

    def _clerk(self) -> None:
        while (job := self._jobs.get()) is not None:
            try:
                written = job()
            except LivepedalError as error:
                self.failed.append(str(error))
                self._say(str(error))
            except Exception as error:
                self.failed.append(f"A file could not be made ({type(error).__name__}: {clean(str(error))}).")
                self._say(self.failed[-1])
            else:
                self.written.append(written)
                if not self._ending.is_set():
                    self._say(f"saved {written.path}")

    def _watch(self) -> None:
        assert self._inputs is not None
        while not self._ending.wait(WATCH):
            try:
                news = self._inputs.watch()
            except Exception as error:
                self._say(f"the MIDI ports cannot be watched ({type(error).__name__}: {clean(str(error))})")
                self._ending.wait(5)
                continue
            for one in news:
                self._port_news(one)

    def _port_news(self, news: PortNews) -> None:
        name = clean(news.name)
        match news.change:
            case Change.GONE:
                self._command(Word.GONE, str(news.source))
                self._say(f"{name} went away; its keys were let go, and it is waited for")
            case Change.BACK:
                self._say(f"{name} is back, listening")
            case Change.SERVER_GONE:
                self._say(f"the {name} server stopped; waiting for it")
            case Change.SERVER_BACK:
                self._say(f"the {name} server is back")

    # -- the main thread -------------------------------------------------------------------------------------

    def remind(self, text: str) -> None:
        """Show a sentence on the dashboard for a while; what was printed before it took the screen is hidden."""
        self._set_status(self.signs.write(text))

    def _command(self, word: str, argument: str = "") -> None:
        self._queue.put((self._clock(), _COMMAND, (word, argument)))

    def _say(self, text: str) -> None:
        self._lines.append(self.signs.write(text))
        self._set_status(text)

    def _set_status(self, text: str) -> None:
        self._status = text
        self._status_at = time.monotonic()
        self._happened += 1

    def news_lines(self) -> list[Line]:
        """What line mode has to say now."""
        lines = []
        while self._lines:
            lines.append(line(self._lines.popleft()))
        return lines

    def step(self) -> bool:
        """Somebody is drawing, so nothing is said in lines; ask for a snapshot when a frame is due."""
        self._lines.clear()
        now = self._clock()
        due = now - self._snapped_at >= _IDLE or (self._count and now - self._drawn_at >= _FRAME)
        if due and not self._asked:
            self._asked = True
            self._queue.put((now, _SNAP, ()))
        return not self._ending.is_set()

    def rest(self) -> float:
        """Seconds until it is worth looking again."""
        if self._asked:
            return _SOON
        if not self._count:
            return _MEANWHILE
        return max((self._drawn_at + _FRAME - self._clock()) / 1e9, 0.001)

    def happened(self) -> int:
        """Changes whenever something does."""
        return self._happened

    def key(self, key: str) -> bool:
        """A key (views/desk.py). False when it ends the session."""
        self._happened += 1
        self._status = ""  # whoever presses a key wants to see the keys
        before = self.desk
        why = unheard(before, key, ACTS)
        if why:
            self._say(why)
        self.desk, wish = press(before, key, self.history.chapters, ACTS)
        return wish is None or self._grant(wish)

    def typed(self, text: str) -> bool:
        """A line that was typed in line mode, without its end. False when it ends the session."""
        text = text[:LONGEST_TYPED]
        if self._setting_next:
            self._setting_next = False
            if not text.strip():
                self._say("the pedals stay as they are")
                return True
            wish, why = set_to(text)
            wishes = [wish] if wish else []
        else:
            wishes, why = wishes_in(text, ACTS)
        for wish in wishes:
            if wish.act is Act.PEDALS and not wish.text:
                self._setting_next = True
                self._say(
                    "type a setting or a key, such as E♭ major; Return alone leaves the pedals as they are"
                )
            elif not self._grant(wish):
                return False
            elif wish.act is Act.PAUSE:
                self._say(
                    PAUSED if self._pausing else "going on: what is played is judged again, and in the file"
                )
        if why:
            self._say(why)
        return True

    def _grant(self, wish: Wish) -> bool:
        match wish.act:
            case Act.QUIT:
                return False
            case Act.KEEP:
                self._command(Word.KEEP)
            case Act.TAP:
                self._command(Word.TAP)
            case Act.AFRESH:
                self._command(Word.AFRESH)
            case Act.PAUSE:
                self._pausing = not self._pausing
                self._command(Word.PAUSE if self._pausing else Word.RESUME)
            case Act.PEDALS:
                self._command(Word.PEDALS, wish.text)
                self._say(f"the pedals stand at {wish.text}; a new take begins with the next note")
            case Act.PLAYER:
                names = [player.name for player in self.session.take.monitor.players]
                number = names.index(self.session.player) if self.session.player in names else 0
                self._command(Word.PLAYER, names[(number + 1) % len(names)])
        return True

    def scene(self) -> Scene:
        """What the dashboard shows now."""
        self._drawn_at = self._clock()
        shown = self._shown
        return Scene(
            snapshot=shown.snapshot,
            title=self.title(),
            # The first note makes bar 1 of whatever moment it comes at.
            place=self._placing(shown.time_map if shown.snapshot.attacks else None),
            state=self._state(),
            details=self.details(),
            desk=self.desk,
            chapters=self.history.chapters,
            acts=ACTS,
            input=self.input(),
            middle_c=self.middle_c,
            signs=self.signs,
            check=lambda player: "livepedal check on the file that is saved at the end, or with k",
        )

    def _placing(self, time_map: TimeMap | None) -> Callable[[int], Place | None]:
        if time_map is None:
            return lambda us: None
        if self._place_of is None or self._place_of[0] is not time_map:
            self._place_of = time_map, lru_cache(maxsize=1024)(time_map.place)
        return self._place_of[1]

    def title(self) -> str:
        """What is listened to."""
        names = ", ".join(clean(name, 40) for _, name in sorted(self._names.items()))
        backend = f" ({self._inputs.backend.label})" if self._inputs is not None else ""
        return f"{names or 'no port'}{backend}"

    def _state(self) -> str:
        if self.fault is not None:
            return "not judging"
        if self.journal.problem is not None:
            return "disk full?"
        if self._shown.paused:
            return "paused"
        return "clock" if self._shown.clocked else ""

    def details(self) -> str:
        """What was said last, while it is new."""
        if self._status and time.monotonic() - self._status_at < _STATUS:
            return self._status
        if self._shown.paused and self.desk.page is Page.NOW:
            return PAUSED
        return ""

    def input(self) -> tuple[str, ...]:
        """What there is to know of the MIDI input, a line each."""
        shown = self._shown
        channels = ", ".join(str(channel) for channel in sorted(self.session.setup.channels))
        kinds = ", ".join(f"{kind} {number}" for kind, number in shown.ignored)
        lines = [
            f"Inputs: {self.title()}",
            f"MIDI channels: {channels or 'all but 10, the drums'}",
            f"Messages so far: {shown.messages}{f'; not judged: {kinds}' if kinds else ''}",
            f"Bars and beats: {self._counted_by()}",
            f"Take {shown.take}; everything is recorded in {self.journal.path}",
        ]
        lines += [f"Saved: {one.path}" for one in self.written[-5:]]
        return tuple(lines)

    def _counted_by(self) -> str:
        if self._shown.clocked:
            return "by the sequencer's clock"
        if self._shown.time_map is None:
            return "nobody counts; tap the tempo with t, or give --tempo"
        return "by the tempo that was given or tapped"
