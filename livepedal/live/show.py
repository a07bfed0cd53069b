"""What `listen` and `replay` share: news becomes words and goes into the history, advice joins it, keys are heard.

News comes from the judge's thread, advice from a thread of its own, keys and pictures from the main thread.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Sequence
from dataclasses import replace

from livepedal.harp import Player
from livepedal.live.advising import Advice
from livepedal.live.advisor import Advisor
from livepedal.live.again import Again
from livepedal.live.answering import Answering
from livepedal.live.chapters import Chapters, PastPassage
from livepedal.live.nearest import Nearest
from livepedal.live.question import Question
from livepedal.live.session import News
from livepedal.model.findings import Finding, Verdict
from livepedal.model.snapshot import Snapshot
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


def after(player: str, players: Sequence[Player]) -> str:
    """The name of the next player."""
    names = [known.name for known in players]
    return names[(names.index(player) + 1) % len(names)]


class Steady:
    """Holds the verdict of the last attack long enough to be read: in a trill it would change with every note."""

    def __init__(self) -> None:
        self._shown: Verdict | None = None
        self._since = 0

    def __call__(self, snapshot: Snapshot) -> Snapshot:
        """The snapshot with the verdict that is to be shown at its moment."""
        held = self._shown is not None and 0 <= snapshot.us - self._since < HOLD
        if not held and snapshot.latest is not self._shown:
            self._shown, self._since = snapshot.latest, snapshot.us
        return replace(snapshot, latest=self._shown)


class Screened:
    """Most of a `terminal.Show`, and a source of lines for line mode.

    Args:
        nearest: works out what could be played instead; None: at once, in the thread of the judge.
        advisor: looks for remedies of closed passages; None for nobody.
        patient: wait for all advice, and tell a passage together with it, so that the lines are the same however
            long it takes.
        output: where a passage is heard again.
        acts: what keys may ask for.
    """

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
    ) -> None:
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
        self._patient = patient
        self._chapters = Chapters()
        self._lines: deque[str | PastPassage] = deque(maxlen=10_000)  # a passage waits there for its advice
        self._steady = Steady()
        self._happened = 0
        self._status = ""
        self._status_at = 0.0

    # -- what is settled, from any thread --------------------------------------------------------------------

    def say(self, text: str) -> None:
        """Say a sentence, in lines and for a while on the dashboard. Never raises."""
        self._line(text)
        self.remind(text)

    def remind(self, text: str) -> None:
        """Show a sentence on the dashboard for a while."""
        self._status, self._status_at = text, time.monotonic()
        self._happened += 1

    def _line(self, text: str | PastPassage) -> None:
        self._lines.append(text)
        self._happened += 1

    def tell(self, news: News) -> None:
        """Put news into words and into the history."""
        piece = news.piece
        match news.what:
            case str() as text:
                self.say(text)
            case Finding() as finding:
                # A withdrawn finding disappears from the screen, so that is said there too.
                say = self.say if finding.withdrawn else self._line
                instead = self.nearest.at_once(piece.number, finding)
                say(finding_line(finding, piece.bars, self.signs, self.middle_c, instead))
            case Question() as question:
                self._passage(question)

    def _passage(self, question: Question) -> None:
        """A passage is over, or is to be looked at again for another player."""
        advisor = None if question.set_within else self.advisor
        past = self._chapters.over(question, sought=advisor is not None)
        if past is not None:
            if self.answering is not None:
                self.answering.over(past.chapter)
            if self._patient and advisor is not None:
                self._line(past)
            else:
                self._line(self._passage_over(question))
        if advisor is not None:
            advisor.ask(question)

    def _passage_over(self, question: Question) -> str:
        return passage_line(question.passage, question.time_map if question.bars else None, self.signs)

    def _advised(self, advice: Advice) -> None:
        past = self._chapters.advised(advice)
        if past is not None and self._patient and not past.done:
            past.told += advice.lines
        else:
            self._lines.extend(advice.lines)
        self._happened += 1

    def _done(self, question: Question) -> None:
        """No more advice will come on this."""
        self._chapters.given_up(question)
        self._happened += 1

    # -- the main thread -------------------------------------------------------------------------------------

    @property
    def chapters(self) -> tuple[Chapter, ...]:
        """The closed passages."""
        return self._chapters.chapters

    @property
    def bells(self) -> int:
        """How often the terminal's bell should have been rung so far."""
        return 0 if self.answering is None else self.answering.bells

    def happened(self) -> int:
        """A number that changes whenever something does."""
        return self._happened + self.nearest.answered

    def typed(self, text: str) -> bool:
        """Handle a line that was typed in line mode. False when it ends the show."""
        return True

    def news_lines(self, width: int | None = None) -> list[Line]:
        """What line mode has to say now, in lines of at most this many columns; None: of any length."""
        said: list[str] = []
        while self._lines:
            news = self._lines[0]
            if isinstance(news, PastPassage) and not news.done:
                break
            said += [news] if isinstance(news, str) else [self._passage_over(news.question), *news.told]
            self._lines.popleft()
        return [*wrapped((line(self.signs.write(text)) for text in said), width)]

    @property
    def waits(self) -> bool:
        """Whether line mode has something left to say."""
        return bool(self._lines)

    def wait_no_more(self) -> None:
        """Tell what waits for advice without it."""
        self._chapters.wait_no_more()

    def forget(self) -> None:
        """Begin again, with no passage that is over."""
        self.wait_no_more()
        self._chapters = Chapters()

    def details(self) -> str:
        """What was said last, while it is new."""
        return self._status if time.monotonic() - self._status_at < STATUS else ""

    def key(self, key: str) -> bool:
        """Handle a key (views/dashboard/desk.py). False when it ends the show."""
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
        self.say(self.again.press(self._chapters.numbered(int(number))))

    def grant(self, wish: Wish) -> bool:
        """Do what a key asks for. False when it ends the show."""
        raise NotImplementedError

    def drawn(self, snapshot: Snapshot, take: int) -> Scene:
        """What the dashboard shows of a snapshot of this take, as far as it is the same for all shows."""
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
