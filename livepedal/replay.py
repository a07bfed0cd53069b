"""A file played in real time through the Monitor, as if somebody were playing it now.

Each event is fed with the moment that it has in the file, so the verdicts are those of `check` at any speed, however
late a frame is drawn and however long the pauses are. Only `Pace` reads a clock. Advice on closed passages comes from a
process beside (live/advisor.py), as it does while listening.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import replace

from livepedal.advice.judging.basis import Basis
from livepedal.harp import Setting
from livepedal.live.advisor import Advisor
from livepedal.live.again import message_of
from livepedal.live.playback import Pace, Playback
from livepedal.live.question import Question
from livepedal.live.session import News
from livepedal.live.show import SUSTAIN, Screened, after
from livepedal.live.stay import Stay, staying
from livepedal.model.findings import Layer, worst
from livepedal.model.watching import Monitor
from livepedal.music.events import ChoosePlayer, NoteOn
from livepedal.music.song import Part
from livepedal.sources.ports.sender import Sender
from livepedal.sources.text import clean
from livepedal.views import words
from livepedal.views.dashboard.desk import Act, Wish
from livepedal.views.dashboard.screen import Scene
from livepedal.views.lines import Line, Tone, badge_of, line
from livepedal.views.plain import NOT_USED
from livepedal.views.signs import FULL, Signs

ACTS = (Act.PAUSE, Act.PEDALS, Act.PLAYER, Act.AFRESH, Act.QUIT)
_MUSIC = 0  # the voice of the file itself
_LONGEST_REST = 0.1  # seconds; the screen says how long a pedal has been free, so it changes on its own
_NOT_OF_CHECK = "without the pedals that were set by hand while it played"
_PATIENCE = 0.3  # seconds that keys and pictures wait for a note that is being judged
_LAST_ADVICE = 1.0  # seconds to wait for advice at the end


class Replay(Screened):
    """One part on its way through a monitor: a `Show` for the dashboard, and a source of lines for line mode.

    Args:
        stays: whether the screen stays when the piece is over, to look back on it.
        advisor: looks for remedies.
        check: the command that judges the same for a player, with the pedals in this setting at the start.
        piped: whether the file came by standard input.
        output: where it sounds.
    """

    def __init__(
        self,
        part: Part,
        title: str,
        basis: Basis,
        *,
        pace: Pace | None = None,
        middle_c: str = "C4",
        signs: Signs = FULL,
        stays: bool = False,
        advisor: type[Advisor] | None = None,
        check: Callable[[str, Setting | None], str] = lambda player, start: "livepedal check",
        piped: bool = False,
        output: Sender | None = None,
    ) -> None:
        super().__init__(signs, middle_c, advisor=advisor, patient=True, output=output, acts=ACTS)
        self.title = title
        self.pace = pace or Pace()
        self.stays = stays
        self._part, self._basis = part, basis
        self._playback = Playback(part, basis, middle_c)
        self._stay: Stay | None = None
        self._check_for, self._piped, self._output = check, piped, output
        self._lock = threading.RLock()
        self._seen = self._playback, self.monitor.snapshot()  # what was shown last
        self._thread: threading.Thread | None = None
        self._fault: Exception | None = None  # in that thread
        self._ended = threading.Event()

    @property
    def monitor(self) -> Monitor:
        """The monitor of the piece, since it was last begun."""
        return self._playback.monitor

    def start(self) -> None:
        """Judge in a thread from here on: a slow terminal holds up no verdict, and a slow verdict no key or signal."""
        self._thread = threading.Thread(target=self._play, name="livepedal-judging", daemon=True)
        self._thread.start()

    def _play(self) -> None:
        try:
            while not self._ended.wait(self.rest()):
                self._judge_due()
        except Exception as error:
            self._fault = error

    def goes_on(self) -> bool:
        """Judge what is due, unless a thread does; False once the piece is over and the screen need not stay."""
        if self._thread is None:
            self._judge_due()
        if self._fault is not None:
            raise self._fault
        if self.stays or not self._lock.acquire(blocking=False):
            return True  # what is being judged is still to be told
        self._lock.release()
        return not self._playback.over

    def _judge_due(self) -> None:
        going = True
        while going:
            with self._lock:  # taken again for each event, so that drawing gets a turn
                playback = self._playback
                if playback.over:
                    return
                now = self.pace.position()
                going = playback.next < len(self._part.events) and playback.due <= now
                if going:
                    self._feed()
                    continue
                playback.advance(now)
                self._happened += playback.over
                for news in playback.news():
                    self.tell(News(playback, news))
                    if self._stay and isinstance(news, Question):
                        self._stay.over()

    def _feed(self) -> None:
        event, found = self._playback.feed()
        if self._output is not None and (message := message_of(event)):
            self._output.send(_MUSIC, message)
        if self._stay and isinstance(event, NoteOn) and (left := self._stay.struck(event.pitch)):
            self.say(left)
        if self.advisor is not None:
            self.nearest.ask(self._playback, found)
            if self._playback.next == 1:
                self.advisor.wake()

    def _pause(self) -> None:
        """Pause, or go on; what is due by now is not heard later."""
        self.pace.pause()
        self._judge_due()
        self._silence()

    def _silence(self) -> None:
        if self._output is not None:
            self._output.let_go(_MUSIC)
            self.again.stop()

    def rest(self) -> float:
        """Seconds until something is due."""
        if self.pace.paused or self._playback.over:
            return _LONGEST_REST
        return min(self.pace.until(self._playback.due), _LONGEST_REST)

    def happened(self) -> int:
        """A number that changes with every event."""
        return super().happened() + self._playback.next

    def end(self) -> None:
        """End it, after a short wait for advice on the last passage, which the summary tells."""
        self._ended.set()
        if self._thread is not None:
            self._thread.join(1)
        self._silence()
        self.nearest.end()
        if self.advisor is not None:
            self.advisor.end(_LAST_ADVICE if self._playback.over else 0)
        self.wait_no_more()

    def announcement(self) -> list[Line]:
        """What line mode says before the music starts."""
        text = (
            f"Replaying {clean(self.title)} for the {self.monitor.player.name} player;"
            f" middle C is {self.middle_c}. Keys do nothing here; Ctrl-C ends it."
            f" {NOT_USED}"
        )
        return [line(self.signs.write(text))]

    def summary(self) -> list[Line]:
        """What to say when it is over."""
        monitor = self.monitor
        passages = (*monitor.passages, *(chapter.passage for chapter in self.chapters))
        verdict = worst(passage.verdict for passage in passages)
        badge = (f" {self.signs.shapes[verdict]} {verdict.word.upper()} ", badge_of(verdict))
        title = (f" {self.signs.write(clean(self.title))}", Tone.STRONG)
        lines = [line(badge, title) if passages else line(title)]
        if any(isinstance(event, NoteOn) for event in self._part.events[self._playback.next :]):
            reached = self.signs.write(words.moment(monitor.now))
            lines.append(line(f"  ended at {reached} of {words.moment(self._part.end_us)}"))
        (count,) = (one for one in monitor.counts() if one.player == monitor.player.name)
        text = f"  the {count.player} player cannot play {count.unplayable} of"
        if not count.unplayable:
            text = f"  the {count.player} player can play all"
        text += f" {words.counted(monitor.attacks, 'attack')}"
        text += f", {count.audible} only audibly" if count.audible else ""
        lines.append(line(text if passages else "  before the first note: nothing was judged"))
        if heavy := monitor.counts(Layer.LOAD)[monitor.number].unplayable:
            number = len(monitor.passages)
            where = "in it" if number == 1 else f"in {heavy} of {words.counted(number, 'passage')}"
            stands = "and" if count.unplayable else "but"
            lines.append(line(f"  {stands} there are too many pedal changes at once {where}"))
        text = "the setting, the pedal changes, every finding and every remedy"
        if self._piped:
            text += " of the same input"
        if self._playback.set_within:
            text += f", but {_NOT_OF_CHECK}"
        lines.append(line((f"  For {text}:", Tone.FAINT)))
        return [tuple((self.signs.write(text), tone) for text, tone in one) for one in lines]

    def check_line(self) -> list[Line]:
        """The command that the summary ends with, to be pasted."""
        return [line((f"  {self._check()}", Tone.FAINT))]

    def _check(self, player: str = "") -> str:
        """The command that judges the same, for a player."""
        return self._check_for(player or self.monitor.player.name, self._playback.set_first)

    def scene(self) -> Scene:
        """What the dashboard shows now."""
        if self._lock.acquire(timeout=_PATIENCE):
            try:
                self._seen = self._playback, self.monitor.snapshot()
            finally:
                self._lock.release()
        playback, snapshot = self._seen
        sustain = SUSTAIN.format("down" if snapshot.sustained else "up")
        events, length = words.counted(len(self._part.events), "event"), words.moment(self._part.end_us)
        unknown = f", but {_NOT_OF_CHECK}" if playback.set_within else ""
        return replace(
            self.drawn(snapshot, playback.number),
            title=self.title,
            place=self._part.time_map.told,
            end=self._part.end_us,
            speed=self.pace.speed,
            state="paused" if self.pace.paused else "over" if playback.over else "",
            input=(
                f"This is a file, not a keyboard: {self.title}.",
                f"It has {events} and lasts {length}.",
                *([f"Staying in: {self._stay.name}"] if self._stay else []),
                sustain,
                "To play a MIDI keyboard, use livepedal listen; livepedal ports lists the inputs.",
            ),
            check=lambda player: self._check(player) + unknown,
        )

    def grant(self, wish: Wish) -> bool:
        """Do what a key asks for. False when it ends the replay."""
        if wish.act is Act.QUIT:
            return False
        if not self._lock.acquire(timeout=_PATIENCE):
            self.say("still judging the last note; q quits")
            return True
        try:
            self._grant(wish)
        finally:
            self._lock.release()
        return True

    def _grant(self, wish: Wish) -> None:
        playback, monitor = self._playback, self.monitor
        match wish.act:
            case Act.PAUSE:
                self._pause()
            case Act.AGAIN:
                if not self.pace.paused and not playback.over:
                    self._pause()
                self.hear_again(wish)
            case Act.STAY:
                self._stay = Stay(wish.text, self.middle_c) if wish.text else None
                self.say(staying(wish.text))
            case Act.PLAYER:
                chosen = after(monitor.player.name, monitor.players)
                monitor.feed(ChoosePlayer(monitor.now, chosen))
                self.say(f"judged for the {chosen} player from here on")
                if question := playback.last_question():
                    self.tell(News(playback, question))
            case Act.PEDALS:
                setting = Setting.parse(wish.text)
                playback.set_pedals(setting)
                self.say(f"the pedals are set to {setting} from here on")
            case Act.AFRESH:
                self._silence()
                self.pace.restart()
                basis = replace(self._basis, player=monitor.player.name)
                self._playback = Playback(self._part, basis, self.middle_c, playback.number + 1)
                self._stay = None
                self.forget()
