"""A file played in real time through the Monitor, as if somebody were playing it now.

The music keeps its own time: each event is fed with the moment that it has in the file, so the verdicts are
those of `check` whatever the speed of playing, however late a frame is drawn, and however long it was paused.
Only its `Pace` reads a clock.

On passages that are over there is advice from a process beside (live/advisor.py), as there is while listening.
In line mode what happens after a passage is told after the advice on it, so that the lines are the same however
long that takes.
"""

from __future__ import annotations

import threading
from array import array
from bisect import bisect_left, bisect_right
from collections import deque
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache, partial

from livepedal.harp import Figures, Instrument, Setting
from livepedal.live.advising import MOST_CONTEXT, Advice, Question
from livepedal.live.advisor import Advisor
from livepedal.live.again import Again, message_of
from livepedal.live.chapters import Chapters
from livepedal.live.nearest import Nearest
from livepedal.live.pace import Pace
from livepedal.live.show import SUSTAIN, Screened
from livepedal.live.stay import Stay, staying
from livepedal.model.feet.chords import Narrowing
from livepedal.model.findings import Finding, Layer, Passage, worst
from livepedal.model.monitor import Monitor
from livepedal.model.settled import Settled
from livepedal.music.events import ChoosePlayer, Event, NoteOn, SetPedals
from livepedal.music.song import Part
from livepedal.sources.ports.sender import Sender
from livepedal.sources.text import clean
from livepedal.views import words
from livepedal.views.dashboard.desk import Act, Wish
from livepedal.views.dashboard.screen import Scene
from livepedal.views.lines import Line, Tone, badge_of, line
from livepedal.views.plain import NOT_USED, finding_line, passage_line
from livepedal.views.signs import FULL, Signs

ACTS = (Act.PAUSE, Act.PEDALS, Act.PLAYER, Act.AFRESH, Act.QUIT)
_MUSIC = 0  # the voice that the file itself sounds with
_SECOND = 1_000_000
_LONGEST_REST = 0.1  # seconds; a pedal that is free shows for how long, so the screen changes on its own
_NOT_OF_CHECK = "without the pedals that were set by hand while it played"
_LAST_ADVICE = 1.0  # seconds that advice is waited for when somebody ends it


@dataclass(frozen=True, slots=True)
class _Told:
    """Something that line mode has to say: a finding, or the passage of this number."""

    what: Finding | Passage
    number: int = 0


def _moment(event: Event) -> int:
    return event.us


class Replay(Screened):
    """One part on its way through a monitor.

    A `Show` for the dashboard, and a source of findings for line mode.
    """

    acts: tuple[Act, ...] = ACTS

    def __init__(
        self,
        part: Part,
        title: str,
        figures: Figures,
        instrument: Instrument,
        player: str = "working",
        *,
        only: tuple[Layer, ...] = (),
        start: Setting | None = None,
        printed: Mapping[int, Narrowing] | None = None,
        pace: Pace | None = None,
        middle_c: str = "C4",
        signs: Signs = FULL,
        stays: bool = False,
        advisor: type[Advisor] | None = None,
        check: Callable[[str, Setting | None], str] = lambda player, start: "livepedal check",
        piped: bool = False,
        output: Sender | None = None,
    ) -> None:
        """Args:
        printed: how a score spells its attacks, by their moment (µs).
        stays: when the piece is over it can be looked back on until somebody ends it.
        advisor: who looks for remedies.
        check: the command that judges the same for a player, with the pedals standing so at the start.
        piped: the file came by way of standard input.
        output: where it sounds.
        """
        super().__init__(signs, middle_c)
        self.part = part
        self.title = title
        self._new = partial(Monitor, figures, instrument, only=only, follow=True, asked=printed)
        self._figures, self._instrument, self._only = figures, instrument, only
        self._start, self._printed = start, printed
        self._check_for, self._piped = check, piped
        self._output = output
        if output is not None:
            self.acts = (*ACTS, Act.AGAIN)
        self._advisor = (
            None if advisor is None else advisor(self._advised, self._remark, self._answered, patient=True)
        )
        self._nearest = Nearest(here=True)
        self._lines: deque[_Told] = deque()
        self._remarks: deque[str] = deque()
        self._advice: dict[tuple[int, int], list[Advice]] = {}  # for line mode
        self._answers: set[tuple[int, int]] = set()  # of which no more is to come
        self._run = 0  # how often it was begun
        self.pace = pace or Pace()
        self.stays = stays
        self._lock = threading.RLock()
        self._thread: threading.Thread | None = None
        self._fault: Exception | None = None  # in that thread
        self._ended = threading.Event()
        self._drawn = False  # then nothing has to be said in lines
        # A passage is over when nothing has happened for so long; then the last one of the piece is as well.
        self._over_at = part.end_us + figures.passage_rest
        self._place = lru_cache(maxsize=1024)(part.time_map.place)
        self._begin(player)

    def _begin(self, player: str) -> None:
        """From the start of the piece."""
        self.monitor = self._new(player)
        self._run += 1
        self._chapters = Chapters()
        self._aloud = Again(self._output)
        self._stay = Stay()
        self._next = 0
        self._over = False
        self._settled = Settled(self.monitor, self._figures.attack_window)
        self._set_by_hand: tuple[int, Setting] | None = None  # when (µs) and how, the last time
        self._set_first = self._start  # how the pedals stood before the first attack
        self._set_within = False  # whether they were set by hand after that
        if self._start is not None:
            self.monitor.feed(SetPedals(0, self._start))

    def start(self) -> None:
        """Judge in a thread of its own from here on, so that no slow terminal holds a verdict up."""
        self._nearest = Nearest()
        self._thread = threading.Thread(target=self._play, name="livepedal-judging", daemon=True)
        self._thread.start()

    def _play(self) -> None:
        try:
            while not self._ended.wait(self.rest()):
                self._judge_due()
        except Exception as error:
            self._fault = error

    def step(self) -> bool:
        """Judge what is due, where no thread does; False once the piece is over, and nobody looks back on it."""
        if self._thread is None:
            self._judge_due()
        if self._fault is not None:
            raise self._fault
        return self.stays or not self._over

    def _judge_due(self) -> None:
        events = self.part.events
        going = True
        while going:
            with self._lock:  # again for each event, for whoever draws
                if self._over:
                    return
                now = self.pace.position()
                going = self._next < len(events) and events[self._next].us <= now
                if going:
                    self._feed(events[self._next])
                    self._next += 1
                    if self._advisor is not None and self._next == 1:
                        self._advisor.wake()
                    continue
                self.monitor.advance(min(now, self._over_at))
                if self._next == len(events) and now >= self._over_at:
                    self._settled.found(self.monitor.finish())
                    self._over = True
                    self._happened += 1
                self._gather()

    def _feed(self, event: Event) -> None:
        found = self.monitor.feed(event)
        self._settled.found(found)
        if self._output is not None and (message := message_of(event)):
            self._output.send(_MUSIC, message)
        if isinstance(event, NoteOn) and (left := self._stay.struck(event.pitch)):
            self._remark(left)
        if self._advisor is None:
            return
        for finding in found:
            if not finding.audible and not finding.withdrawn:
                quarter = round(60_000_000 / self.part.time_map.beats_per_minute(finding.us))
                self._nearest.ask(self._run, self.monitor.case(finding), quarter)

    def _pause(self) -> None:
        """Stop, or go on; nothing that is due by now sounds later."""
        self.pace.pause()
        self._judge_due()
        self._silence()

    def _silence(self) -> None:
        if self._output is not None:
            self._output.let_go(_MUSIC)
            self._aloud.stop()

    def rest(self) -> float:
        """Seconds until something is due."""
        if self.pace.paused or self._over:
            return _LONGEST_REST
        events = self.part.events
        due = events[self._next].us if self._next < len(events) else self._over_at
        return min(self.pace.until(due), _LONGEST_REST)

    def happened(self) -> int:
        """A number that changes with every event."""
        return self._happened + self._next + self._nearest.answered

    def _gather(self) -> None:
        """Keep the findings and passages that are settled, for whoever asks."""
        told: list[_Told] = []
        for finding in self._settled.findings(self._over):
            self._chapters.found(finding)
            told.append(_Told(finding))
            if finding.withdrawn:  # it goes from the screen, so that is said there too
                self.remind(self._in_words(finding))
        first = self._settled.told + 1
        for number, passage in enumerate(self._settled.passages(), first):
            self._close(passage, number)
            told.append(_Told(passage, number))
        if not self._drawn:
            # A passage is over after all that was found in it.
            self._lines += sorted(
                told, key=lambda one: one.what.us if isinstance(one.what, Finding) else one.what.end
            )

    def _close(self, passage: Passage, number: int) -> None:
        """A passage is over: into the history with it, and have it looked at."""
        by_hand = self._set_by_hand
        within = by_hand is not None and passage.start < by_hand[0] <= passage.end
        asked = self._advisor is not None and not within
        question = self.question_of(passage, number)
        chapter = self._chapters.over(question, self._place, sought=asked, set_within=within)
        self._aloud.keep(chapter.number, question)
        self._stay.over()
        if asked:
            assert self._advisor is not None
            self._advisor.ask(question)
        else:
            self._answered(question)

    def question_of(self, passage: Passage, number: int) -> Question:
        """The question about a passage that is over, its `number`th, from 1."""
        events = self.part.events
        first = bisect_left(events, passage.start, key=_moment)
        last = bisect_right(events, passage.end, key=_moment)
        setting, since = self._start, 0
        if self._set_by_hand is not None and self._set_by_hand[0] <= passage.start:
            since, setting = self._set_by_hand
        context = events[max(first - MOST_CONTEXT, 0) : first]
        nearer = [one for one in context if one.us >= since]
        # A setting holds for what comes right after it.
        known = setting if len(nearer) < len(context) or first <= MOST_CONTEXT else None
        return Question(
            self._run,
            number,
            passage,
            array("Q"),
            self.part.time_map,
            True,
            self._figures,
            self._instrument,
            self.monitor.player.name,
            self._only,
            known,
            self.middle_c,
            events=(*nearer, *events[first:last]),
            set_at=since,
            printed=self._printed,
        )

    def _again(self) -> None:
        """The last passage that is over is looked at once more, for another player."""
        over = [passage for passage in self.monitor.passages if not passage.open]
        if self._advisor is None or not over or not self.chapters or self.chapters[-1].set_within:
            return
        question = self.question_of(over[-1], len(over))
        self._chapters.again(question)
        self._advisor.ask(question)

    def _advised(self, advice: Advice) -> None:
        self._advice.setdefault((advice.take, advice.passage_number), []).append(advice)
        self._chapters.advised(advice)
        if advice.take == self._run:
            self._aloud.advised(advice.passage_number, advice.remedies)
        self._happened += 1

    def _answered(self, question: Question) -> None:
        self._chapters.given_up(question.take, question.number, question.player)
        self._answers.add((question.take, question.number))
        self._happened += 1

    def _remark(self, text: str) -> None:
        self._remarks.append(text)
        self.remind(text)

    @property
    def waiting(self) -> bool:
        """Whether line mode has something to say that advice is still waited for."""
        return bool(self._lines)

    def end(self) -> None:
        """Nobody looks or listens any more. What is known of the last passage in a moment is waited for, for the
        summary.
        """
        self._ended.set()
        if self._thread is not None:
            self._thread.join(5)
        self._silence()
        self._nearest.end()
        if self._advisor is not None:
            self._advisor.end(_LAST_ADVICE if self._over else 0)
        self._answers.update((self._run, one.number) for one in self._lines if one.number)

    def announcement(self) -> list[Line]:
        """What line mode says before the music starts."""
        text = (
            f"Replaying {clean(self.title)} for the {self.monitor.player.name} player;"
            f" middle C is {self.middle_c}. Keys do nothing here; Ctrl-C ends it."
            f" {NOT_USED}"
        )
        return [line(self.signs.write(text))]

    def news_lines(self) -> list[Line]:
        """What line mode has to say now, one line each."""
        said: list[str] = []
        while self._lines:
            news = self._lines[0]
            if isinstance(news.what, Finding):
                said.append(self._in_words(news.what))
            elif (self._run, news.number) not in self._answers:
                break
            else:
                said += self._passage_lines(news.what, news.number)
            self._lines.popleft()
        while self._remarks:
            said.append(self.signs.write(self._remarks.popleft()))
        return [line(text) for text in said]

    def _in_words(self, finding: Finding) -> str:
        instead = self._nearest.of(self._run, finding)
        return finding_line(finding, self.part.time_map, self.signs, self.middle_c, instead)

    def _passage_lines(self, passage: Passage, number: int) -> list[str]:
        """A passage with its verdict, and the advice on it."""
        advice = self._advice.pop((self._run, number), [])
        planned = next((one.planned for one in advice if one.planned is not None), None)
        too_much = None
        if planned is not None:
            passage, too_much = planned.passage, planned.too_much
        said = [passage_line(passage, self.part.time_map, self.signs, too_much)]
        return said + [self.signs.write(text) for one in advice for text in one.lines]

    def summary(self) -> list[Line]:
        """What there is to say when it is over, or when somebody ended it."""
        chapters = self.chapters
        passages = (*self.monitor.passages, *(chapter.passage for chapter in chapters))
        verdict = worst(passage.verdict for passage in passages)
        badge = (f" {self.signs.shapes[verdict]} {verdict.word.upper()} ", badge_of(verdict))
        title = (f" {self.signs.write(clean(self.title))}", Tone.STRONG)
        lines = [line(badge, title) if passages else line(title)]
        if any(isinstance(event, NoteOn) for event in self.part.events[self._next :]):
            heard = self.signs.write(words.moment(self.monitor.now))
            lines.append(line(f"  ended at {heard} of {words.moment(self.part.end_us)}"))
        (count,) = (one for one in self.monitor.counts() if one.player == self.monitor.player.name)
        text = f"  the {count.player} player cannot play {count.unplayable} of"
        if not count.unplayable:
            text = f"  the {count.player} player can play all"
        text += f" {words.counted(self.monitor.attacks, 'attack')}"
        text += f", {count.audible} only audibly" if count.audible else ""
        lines.append(line(text if passages else "  before the first note: nothing was judged"))
        heavy = sum(chapter.too_much and chapter.player == count.player for chapter in chapters)
        if heavy:
            where = (
                "in it" if len(chapters) == 1 else f"in {heavy} of {words.counted(len(chapters), 'passage')}"
            )
            stands = "and" if count.unplayable else "but"
            lines.append(line(f"  {stands} there are too many pedal changes at once {where}"))
        elif self._judges_load and not (
            all(chapter.planned for chapter in chapters)
            and all(not passage.open for passage in self.monitor.passages)
        ):
            lines.append(line("  livepedal check says whether there are too many pedal changes at once"))
        text = "the setting, the pedal changes and every finding"
        if self._piped:
            text += " of the same input"
        if self._set_within:
            text += f", but {_NOT_OF_CHECK}"
        lines.append(line((f"  For {text}:", Tone.FAINT)))
        return [tuple((self.signs.write(text), tone) for text, tone in one) for one in lines]

    def check_line(self) -> list[Line]:
        """The command that `summary` ends with, to be pasted."""
        return [line((f"  {self._check()}", Tone.FAINT))]

    @property
    def _judges_load(self) -> bool:
        return not self._only or Layer.LOAD in self._only

    def _check_of(self, player: str) -> str:
        """The command for a passage that was judged for this player, with what it cannot tell."""
        command = self._check_for(player or self.monitor.player.name, self._set_first)
        return command + (f", but {_NOT_OF_CHECK}" if self._set_within else "")

    def _check(self) -> str:
        """The command that tells all of it."""
        return self._check_for(self.monitor.player.name, self._set_first)

    def scene(self) -> Scene:
        """What the dashboard shows now."""
        self._drawn = True
        with self._lock:
            snapshot = self._steady(self.monitor.snapshot())
        return Scene(
            snapshot=snapshot,
            title=self.title,
            place=self._place,
            end=self.part.end_us,
            speed=self.pace.speed,
            state="paused" if self.pace.paused else "over" if self._over else "",
            details=self.details(),
            desk=self.desk,
            chapters=self.chapters,
            acts=self.acts,
            input=(
                f"This is a file, not a keyboard: {self.title}.",
                f"It has {words.counted(len(self.part.events), 'event')} and lasts {words.moment(self.part.end_us)}.",
                *([f"Staying in: {self._stay.name}"] if self._stay.name else []),
                SUSTAIN.format("down" if snapshot.sustained else "up"),
                "To play a MIDI keyboard, use livepedal listen; livepedal ports lists the inputs.",
            ),
            middle_c=self.middle_c,
            signs=self.signs,
            instead=lambda take, finding: self._nearest.of(take or self._run, finding),
            check=self._check_of,
        )

    def grant(self, wish: Wish) -> bool:
        """Do what a key asks for. False when it ends the replay."""
        with self._lock:
            return self._grant(wish)

    def _grant(self, wish: Wish) -> bool:
        now = self.monitor.now
        match wish.act:
            case Act.QUIT:
                return False
            case Act.PAUSE:
                self._pause()
            case Act.AGAIN:
                if not self.pace.paused and not self._over:
                    self._pause()
                self.remind(self._aloud.press(self.passage_of(wish)))
            case Act.STAY:
                self._stay = Stay(wish.text, self.middle_c)
                self.remind(staying(wish.text))
            case Act.PLAYER:
                names = [player.name for player in self.monitor.players]
                after = names[(names.index(self.monitor.player.name) + 1) % len(names)]
                self.monitor.feed(ChoosePlayer(now, after))
                self.remind(f"judged for the {after} player from here on")
                self._again()
            case Act.PEDALS:
                setting = Setting.parse(wish.text)
                self.monitor.feed(SetPedals(now, setting))
                self._set_by_hand = now, setting
                if self.monitor.attacks:
                    self._set_within = True
                else:
                    self._set_first = setting
                self.remind(f"the pedals are set to {setting} from here on")
            case Act.AFRESH:
                self._silence()
                self.pace.restart()
                self._begin(self.monitor.player.name)
            case _:
                pass
        return True
