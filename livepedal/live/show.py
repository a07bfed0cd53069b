"""What `listen` and `replay` have in common: what is settled becomes words and goes into the history of passages, with
advice on each; what is looked at; keys.

What is settled comes from the judge's thread, advice from a thread of its own, keys and pictures from the main thread.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache

from livepedal.harp import Player
from livepedal.live.advising import Advice
from livepedal.live.advisor import Advisor
from livepedal.live.again import Again
from livepedal.live.answering import Answering
from livepedal.live.chapters import Chapters
from livepedal.live.nearest import Nearest
from livepedal.live.question import Followed, Question
from livepedal.live.session import Anew, Keeping, News
from livepedal.model.findings import Finding, Passage, Snapshot, Verdict
from livepedal.music.timemap import TimeMap
from livepedal.sources.ports.sender import Sender
from livepedal.views.dashboard.desk import Act, Desk, Wish, press, unheard
from livepedal.views.dashboard.history import Chapter, nowhere
from livepedal.views.dashboard.screen import Scene
from livepedal.views.lines import Line, line
from livepedal.views.plain import finding_line, passage_line, wrapped
from livepedal.views.signs import FULL, Signs

HOLD = 500_000  # µs that the verdict of the last attack stays at the least
STATUS = 8.0  # seconds that something said stays on the dashboard
SUSTAIN = "The sustain pedal is {}. It never causes a finding: harp strings ring on anyway."
_ADVISED = 20  # passages that advice may still be to come on


def after(player: str, players: Sequence[Player]) -> str:
    """The name of the next of the players."""
    names = [one.name for one in players]
    return names[(names.index(player) + 1) % len(names)]


class Steady:
    """The verdict of the last attack, so that it can be read: in a trill it would change with every note."""

    def __init__(self) -> None:
        self._shown: Verdict | None = None
        self._since = 0

    def __call__(self, snapshot: Snapshot) -> Snapshot:
        """The snapshot with the verdict that is to be shown at its moment."""
        held = self._shown is not None and 0 <= snapshot.us - self._since < HOLD
        if not held and snapshot.latest is not self._shown:
            self._shown, self._since = snapshot.latest, snapshot.us
        return replace(snapshot, latest=self._shown)


@dataclass(slots=True)
class _Untold:
    """A passage that is told together with the advice on it."""

    passage: Passage
    bars: TimeMap | None
    advice: list[Advice] = field(default_factory=list)
    done: bool = False

    def lines(self, signs: Signs) -> list[str]:
        planned = next((one.planned for one in self.advice if one.planned is not None), None)
        passage = self.passage if planned is None else planned.passage
        too_much = None if planned is None else planned.too_much
        first = passage_line(passage, self.bars, signs, too_much)
        return [first, *(text for one in self.advice for text in one.lines)]


class Screened:
    """Something that goes on in time and is shown; most of a `terminal.Show`, and a source of lines for line mode."""

    def __init__(
        self,
        signs: Signs = FULL,
        middle_c: str = "C4",
        *,
        nearest: Nearest | None = None,
        advisor: type[Advisor] | None = None,
        patient: bool = False,
        output: Sender | None = None,
        acts: tuple[Act, ...] = (),
        named: Callable[[int, int], str] = lambda take, number: "",
    ) -> None:
        """Args:
        advisor: who looks for remedies of passages that are over, None for nobody.
        patient: all advice is waited for, and lines tell a passage with it, so they are the same however long it takes.
        output: where a passage is heard again.
        acts: what keys may ask for.
        named: the name of the file of a passage, by the numbers of its take and of the passage from 0.
        """
        self.signs = signs
        self.middle_c = middle_c
        self.acts = acts if output is None else (*acts, Act.AGAIN)
        self.desk = Desk()
        self.nearest = nearest or Nearest(here=True)
        self.advisor = (
            None if advisor is None else advisor(self._advised, self.say, self._done, patient=patient)
        )
        self.again = Again(output)
        self.answering: Answering | None = None
        self._patient, self._named = patient, named
        self._chapters = Chapters()
        self._lines: deque[str | _Untold] = deque(maxlen=10_000)
        self._waiting: dict[tuple[int, int], _Untold] = {}  # by take and passage
        self._steady = Steady()
        self._happened = 0
        self._status = ""
        self._status_at = 0.0

    # -- what is settled, from any thread --------------------------------------------------------------------

    def say(self, text: str) -> None:
        """Show a sentence, in lines and for a while on the dashboard. Never raises."""
        self._line(text)
        self.remind(text)

    def remind(self, text: str) -> None:
        """Show a sentence on the dashboard for a while."""
        self._status, self._status_at = text, time.monotonic()
        self._happened += 1

    def _line(self, text: str | _Untold) -> None:
        self._lines.append(text)
        self._happened += 1

    def tell(self, news: News) -> None:
        """Something is settled."""
        music = news.take
        match news.what:
            case str() as text:
                self.say(text)
            case Finding() as finding:
                self._chapters.found(finding)
                # What is taken back goes from the screen, so that is said there too.
                say = self.say if finding.withdrawn else self._line
                instead = self.nearest.of(music.number, finding)
                say(finding_line(finding, music.bars, self.signs, self.middle_c, instead))
            case Passage() as passage:
                self._passage(passage, music)
            case Keeping(number, over, before):
                name, when = self._named(music.number, number), "" if over else " when it is over"
                self.say(f"this passage is already kept, as {name}" if before else f"kept as {name}{when}")
            case Anew(passage):
                question = music.question(passage)
                if self.advisor is not None and not question.set_within:
                    self._chapters.again(question)
                    self.advisor.ask(question)

    def _passage(self, passage: Passage, music: Followed) -> None:
        question, bars = music.question(passage), music.bars
        place = nowhere if bars is None else lru_cache(maxsize=256)(bars.place)
        advisor = None if question.set_within else self.advisor
        chapter = self._chapters.over(question, place, sought=advisor is not None)
        self.again.keep(chapter.number, question)
        if self.answering is not None:
            self.answering.over(chapter)
        if self._patient and advisor is not None:
            waiting = self._waiting[question.take, question.number] = _Untold(passage, bars)
            self._line(waiting)
        else:
            provisional = advisor is not None and chapter.load
            self._line(passage_line(passage, bars, self.signs, provisional=provisional))
        if advisor is not None:
            advisor.ask(question)

    def _advised(self, advice: Advice) -> None:
        self._chapters.advised(advice)
        waiting = self._waiting.get((advice.take, advice.passage_number))
        if waiting is None:
            self._lines.extend(text for text in (advice.verdict, *advice.lines) if text)
        else:
            waiting.advice.append(advice)
        self._known(advice)

    def _done(self, question: Question) -> None:
        """No more advice will come on this."""
        self._chapters.given_up(question.take, question.number, question.basis.player)
        waiting = self._waiting.pop((question.take, question.number), None)
        if waiting is not None:
            waiting.done = True
        self._known(Advice(question.take, question.number))

    def _known(self, advice: Advice) -> None:
        """More is known of a passage."""
        for chapter in self.chapters[-_ADVISED:]:
            if (chapter.take, chapter.within) == (advice.take, advice.passage_number):
                self.again.advised(chapter.number, advice.remedies)
                if self.answering is not None:
                    self.answering.look(chapter)
        self._happened += 1

    # -- the main thread -------------------------------------------------------------------------------------

    @property
    def chapters(self) -> tuple[Chapter, ...]:
        """The passages that are over."""
        return self._chapters.chapters

    @property
    def bells(self) -> int:
        """How often the terminal's bell was to be rung so far."""
        return 0 if self.answering is None else self.answering.bells

    def happened(self) -> int:
        """A number that changes whenever something does."""
        return self._happened + self.nearest.answered

    def goes_on(self) -> bool:
        """Judge what is due, where no thread does; False once it is over, and nobody looks back on it."""
        return True

    def typed(self, text: str) -> bool:
        """A line that was typed in line mode, without its end. False when it ends the show."""
        return True

    def news_lines(self, width: int | None = None) -> list[Line]:
        """What line mode has to say now, in lines of at most so many columns; None: of any length."""
        said: list[str] = []
        while self._lines:
            news = self._lines[0]
            if isinstance(news, _Untold) and not news.done:
                break
            said += [news] if isinstance(news, str) else news.lines(self.signs)
            self._lines.popleft()
        return [*wrapped((line(self.signs.write(text)) for text in said), width)]

    @property
    def waits(self) -> bool:
        """Whether line mode has something to say that advice is still waited for."""
        return bool(self._lines)

    def wait_no_more(self) -> None:
        """What waits for advice is to be told without it."""
        for waiting in tuple(self._waiting.values()):
            waiting.done = True

    def forget(self) -> None:
        """It is begun again: no passage is over, and none is to be heard."""
        self._chapters = Chapters()
        self.again = Again(self.again.sender)

    def details(self) -> str:
        """What was said last, while it is new."""
        return self._status if time.monotonic() - self._status_at < STATUS else ""

    def key(self, key: str) -> bool:
        """A key (views/dashboard/desk.py). False when it ends the show."""
        self._happened += 1
        self._status = ""  # whoever presses a key wants to see the keys
        why = unheard(self.desk, key, self.acts)
        if why:
            self.remind(why)
        self.desk, wish = press(self.desk, key, self.chapters, self.acts)
        return wish is None or self.grant(wish)

    def hear_again(self, wish: Wish) -> None:
        """Play the passage that a wish is about: the one that was chosen, else the last."""
        number = wish.text or (self.chapters[-1].number if self.chapters else 0)
        self.say(self.again.press(int(number)))

    def grant(self, wish: Wish) -> bool:
        """Do what a key asks for. False when it ends the show."""
        raise NotImplementedError

    def drawn(self, snapshot: Snapshot, take: int) -> Scene:
        """What the dashboard shows, as far as it is the same for all shows.

        Args:
            take: the number of the one that the snapshot is of.
        """
        return Scene(
            snapshot=self._steady(snapshot),
            title="",
            place=nowhere,
            bells=self.bells,
            details=self.details(),
            desk=self.desk,
            chapters=self.chapters,
            acts=self.acts,
            middle_c=self.middle_c,
            signs=self.signs,
            instead=lambda number, finding: self.nearest.of(number or take, finding),
        )
