"""Listening: the stages of a session, each in a thread of its own, and the screen in front of them.

This package's docstring says what runs where. The screen shows a picture that it asks the judge for, and does not wait
for one who is busy. The stages begin together, and end so that nothing is lost: a judge who is behind then, or does not
come back from a note at all, is left; the files are made from the journal, with the findings up to there, and `check`
judges the rest.
"""

from __future__ import annotations

import sys
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path

from livepedal.live.advisor import Advisor
from livepedal.live.answering import Answering
from livepedal.live.clerk import Clerk
from livepedal.live.faults import Faults, Stage
from livepedal.live.hearing import Hearing
from livepedal.live.judging import Judging
from livepedal.live.nearest import Nearest
from livepedal.live.plugged import Outs, Plugged
from livepedal.live.recover import played_again
from livepedal.live.session import Session
from livepedal.live.setup import Setup
from livepedal.live.show import SUSTAIN, Screened, after
from livepedal.live.stay import staying
from livepedal.sources.journal import Command, JournalWriter, Word
from livepedal.sources.ports import stamps
from livepedal.sources.ports.libraries import Receive
from livepedal.sources.ports.outputs import ANSWERS
from livepedal.sources.ports.system import Inputs
from livepedal.views.dashboard.desk import LONGEST_TYPED, Act, Panel, Wish, set_to, wishes_in
from livepedal.views.dashboard.history import nowhere
from livepedal.views.dashboard.screen import Scene
from livepedal.views.lines import Line
from livepedal.views.signs import FULL, Signs

BEHIND = 300_000  # µs that the judge may be behind before the user is told
SYNC = 1.0  # seconds between two syncs of the journal to the disk
# Seconds between two turns of Python's threads (default: 5 ms), so that neither drawing nor judging holds up a note.
_SWITCH = 0.0005
_LAST_ADVICE = 1.0  # seconds to wait at the end for advice on the last passages
_LAST_VERDICTS = 0.8  # seconds to wait at the end for a judge who is behind
_TURN = 0.1  # seconds between two chances of Ctrl-C: on Windows it ends no wait without an end
_SAID = 1.0  # seconds of writing files after which the user is told
_REST = 0.02  # seconds between two checks whether anything was played
PAUSED = "paused: not judged, and only in the journal, not in the file; space continues"
ACTS = (Act.PAUSE, Act.KEEP, Act.PEDALS, Act.PLAYER, Act.TAP, Act.AFRESH, Act.QUIT)
_NO_OUTS = Outs()


def seconds(us: int) -> str:
    """A length of time: "0.4 s"."""
    return f"{us / 1_000_000:.1f} s"


class Listener(Screened):
    """A session at live ports. A `Show` for the dashboard, and a source of lines for line mode.

    Args:
        folder: where the files go.
        clock: ns that never go back.
        advises: look for remedies, in a process beside.
        bell: ring the terminal's bell when an attack becomes unplayable.
    """

    def __init__(
        self,
        setup: Setup,
        journal: JournalWriter,
        folder: Path,
        *,
        inputs: Inputs | None = None,
        outs: Outs = _NO_OUTS,
        signs: Signs = FULL,
        clock: Callable[[], int] = stamps.clock,
        advises: bool = False,
        bell: bool = False,
    ) -> None:
        self._clock = clock
        self._over = threading.Event()
        self._threads: dict[str, threading.Thread] = {}
        self._switch = sys.getswitchinterval()
        self.faults = Faults(journal.path, self.say)
        super().__init__(
            signs,
            setup.middle_c,
            nearest=Nearest(self.faults),
            advisor=Advisor if advises else None,
            output=outs.again,
            acts=ACTS,
        )
        self.setup = setup
        self.journal = journal
        send = None if outs.answer is None else partial(outs.answer.send, ANSWERS)
        answering = self.answering = Answering(setup.figures.answer, self.faults, send, bell=bell)
        self.clerk = Clerk(folder, self.faults, self._saved)
        self.judging = Judging(setup, self.faults, self.nearest, self.tell, self.clerk.save, answering.judged)
        self.hearing = Hearing(journal, self.faults, clock, self.judging.put, self._journal_problem)
        self.plugged = Plugged(inputs, outs, self.faults, self.hearing, self.say)
        self.session: Session = self.judging.session
        # As the keys have set it, like the next three; the judge learns of it later.
        self._player = setup.player
        self._pausing = False
        self._staying = ""  # the key that is to be stayed in
        self._setting_next = False  # in line mode, the next line that is typed is a setting
        self._told_behind = 0  # µs that the judge was behind when line mode last said so

    # -- the stages ------------------------------------------------------------------------------------------

    def receiver(self, source: int) -> Receive:
        """The callback of a source."""
        inputs = self.plugged.inputs
        timed = inputs is None or inputs.backend.timed
        return self.hearing.receiver(source, timed, self.plugged.outs.through)

    def start(self) -> None:
        """Start the threads."""
        sys.setswitchinterval(_SWITCH)
        stages: dict[str, Callable[[], None]] = {
            "hearing": self.hearing.run,
            "judging": self.judging.run,
            "clerk": self.clerk.run,
            "sync": self._sync,
            "ports": lambda: self.plugged.run(self._over),
        }
        for name, run in stages.items():
            thread = threading.Thread(target=run, name=f"livepedal-{name}", daemon=True)
            thread.start()
            self._threads[name] = thread

    def _sync(self) -> None:
        while not self._over.wait(SYNC):
            self.journal.sync()

    def end(self, tell: Callable[[str], None] = lambda text: None) -> None:
        """End the session: close the ports, journal what has come, write the files, close the journal.

        Args:
            tell: is given a sentence where that takes a while.
        """
        if self._over.is_set():
            return
        self._over.set()
        self._runs("ports", 10)
        if self.plugged.inputs is not None:
            self.plugged.inputs.close()
        self.plugged.outs.end()
        self.hearing.end()
        self._runs("hearing")
        since = time.monotonic()
        while judges := self._runs("judging", 0.05):
            if time.monotonic() - since > _LAST_VERDICTS and self.behind() > BEHIND:
                break
        if judges:
            tell(
                f"Judging is {seconds(self.behind())} behind, so the rest is not judged; livepedal check does that."
            )
            self._unjudged()
        if self.session.unkept:
            tell("The passage you asked to keep is in the file of the whole take.")
        if self.judging.lost:
            self.clerk.failed.append("Not all that was played is in the MIDI file.")
        self.clerk.end()
        if self._runs("clerk", _SAID):
            tell(f"Still writing {self.clerk.busy}. Press Ctrl-C to leave it to livepedal recover.")
            self._runs("clerk")
        self._end_journal()
        self.nearest.end()
        if self.advisor is not None:
            self.advisor.end(_LAST_ADVICE)
        sys.setswitchinterval(self._switch)

    def _unjudged(self) -> None:
        """Leave the judge, and make the files from the journal that he has not made."""
        self.judging.leave()
        left, records = self.session.take, self.journal.read_back()
        self.judging.lost |= len(records) < self.journal.count
        self.session = played_again(records, self.setup, most=0)
        for take in self.session.finished:
            if take.number == left.number:
                take.judged_as(left)
            self.clerk.save(take)

    def _runs(self, stage: str, seconds: float | None = None) -> bool:
        """Whether a stage still runs after so many seconds; None: wait until it has ended."""
        thread = self._threads.get(stage)  # Ctrl-C may come before it was started
        if thread is None:
            return False
        if seconds is None:
            while thread.is_alive():
                thread.join(_TURN)
            return False
        thread.join(seconds)
        return thread.is_alive()

    def _end_journal(self) -> None:
        # Where a file could not be written, only the journal has the music, and must count as unfinished.
        if not self.clerk.failed:
            names = ", ".join(saved.path.name for saved in self.clerk.written)
            self.journal.write(Command(self.hearing.now, Word.END, names))
        self.journal.close()

    def behind(self) -> int:
        """How far the judge is behind (µs)."""
        return self.judging.behind((self._clock() - self.hearing.zero) // 1000)

    # -- what the stages say, in their threads ---------------------------------------------------------------

    def _saved(self, text: str) -> None:
        if not self._over.is_set():
            self.say(text)

    def _journal_problem(self, problem: str | None) -> None:
        if problem is None:
            self.say("the journal can be written again, and nothing is missing from it")
        else:
            self.say(f"the journal cannot be written ({problem}); keep playing: what you play waits in memory")

    # -- the main thread -------------------------------------------------------------------------------------

    def news_lines(self, width: int | None = None) -> list[Line]:
        """What line mode has to say now, in lines of at most this many columns; None: of any length."""
        if not self._over.is_set():
            self._tell_behind()
        try:
            return super().news_lines(width)
        except Exception as error:
            self.faults.caught(Stage.SCREEN, error)
            return []

    def _tell_behind(self) -> None:
        behind = self.behind()
        if behind > max(BEHIND, 2 * self._told_behind):
            self._told_behind = behind
            self.say(f"judging is {seconds(behind)} behind; everything is still recorded")
        elif behind < BEHIND // 3 and self._told_behind:
            self._told_behind = 0
            self.say("judging has caught up")

    def goes_on(self) -> bool:
        """Whether it does. With the first music the process for advice is started, to be ready in time."""
        if self.advisor is not None and self.hearing.messages:
            self.advisor.wake()
        return not self._over.is_set()

    def rest(self) -> float:
        """Seconds until it is worth looking again."""
        return _REST

    def happened(self) -> int:
        """Changes whenever something does."""
        return super().happened() + self.session.messages

    def key(self, key: str) -> bool:
        """Handle a key. False when it ends the session."""
        try:
            return super().key(key)
        except Exception as error:
            self.faults.caught(Stage.SCREEN, error)
            return key not in ("q", "Q", "\x03")

    def typed(self, text: str) -> bool:
        """Handle a line that was typed in line mode. False when it ends the session."""
        text = text[:LONGEST_TYPED]
        if self._setting_next:
            self._setting_next = False
            if not text.strip():
                self.say("the pedals are unchanged")
                return True
            wish, why = set_to(text)
            wishes = [wish] if wish else []
        else:
            wishes, why = wishes_in(text, self.acts)
        for wish in wishes:
            if wish.act is Act.PEDALS and not wish.text:
                self._setting_next = True
                self.say(
                    "type a setting or a key, such as E♭ major, or stay E♭ major; Return alone changes nothing"
                )
            elif not self.grant(wish):
                return False
            elif wish.act is Act.PAUSE:
                self.say(
                    PAUSED
                    if self._pausing
                    else "continuing: what you play is judged again and goes into the file"
                )
        if why:
            self.say(why)
        return True

    def grant(self, wish: Wish) -> bool:
        """Do what a key asks for, by way of the journal. False when it ends the session."""
        command = self.hearing.command
        match wish.act:
            case Act.QUIT:
                return False
            case Act.KEEP:
                command(Word.KEEP)
                if self.behind() > BEHIND:
                    self.say("it will be kept as soon as judging catches up")
            case Act.TAP:
                command(Word.TAP)
            case Act.AFRESH:
                command(Word.AFRESH)
            case Act.PAUSE:
                self._pausing = not self._pausing
                command(Word.PAUSE if self._pausing else Word.RESUME)
            case Act.PEDALS:
                command(Word.PEDALS, wish.text)
                self.say(f"the pedals are set to {wish.text}; a new take begins with the next note")
            case Act.STAY:
                command(Word.STAY, wish.text)
                self._staying = wish.text
                self.say(staying(wish.text))
            case Act.AGAIN:
                self.hear_again(wish)
            case Act.PLAYER:
                self._player = after(self._player, self.setup.figures.scale(self.setup.player))
                command(Word.PLAYER, self._player)
        return True

    def scene(self) -> Scene:
        """What the dashboard shows now."""
        shown = self.judging.look()
        return replace(
            self.drawn(shown.snapshot, shown.take),
            title=self.plugged.title(),
            # The first note makes bar 1 of whatever moment it comes at.
            place=shown.time_map.told if shown.time_map and shown.snapshot.attacks else nowhere,
            state=self._state(),
            lamp=self.hearing.lit(),
            late=self._late(),
            input=self.input(),
            check=lambda player: "livepedal check on the file that is saved at the end, or with k",
        )

    def _late(self) -> str:
        """Why the picture is behind, "" where it is not."""
        if self.judging.failed:
            return "not judged any more"
        behind = self.behind()
        return f"judging is {seconds(behind)} behind" if behind > BEHIND else ""

    def _state(self) -> str:
        if self.judging.failed:
            return "not judging"
        if self.journal.problem is not None:
            return "disk full?"
        if gone := self.plugged.gone():
            return gone
        if self._pausing:
            return "paused"
        return "clock" if self.judging.shown.clocked else ""

    def details(self) -> str:
        """What was said last, while it is new."""
        return super().details() or (PAUSED if self._pausing and self.desk.page is Panel.NOW else "")

    def input(self) -> tuple[str, ...]:
        """What there is to know about the MIDI input, a line each."""
        shown = self.judging.shown
        channels = ", ".join(str(channel) for channel in sorted(self.setup.channels))
        kinds = ", ".join(f"{kind} {number}" for kind, number in shown.ignored)
        outputs = self.plugged.outputs_told()
        lines = [
            self.plugged.inputs_told(),
            *([f"Outputs: {outputs}"] if outputs else []),
            f"MIDI channels: {channels or 'all but 10, the drums'}",
            f"Messages so far: {self.hearing.messages}{f'; not judged: {kinds}' if kinds else ''}",
            f"Bars and beats: {self._counted_by()}",
            *([f"Staying in: {self._staying}"] if self._staying else []),
            SUSTAIN.format("down" if shown.snapshot.sustained else "up"),
            f"Take {shown.take}; everything is recorded in {self.journal.path}",
        ]
        lines += [f"Saved: {saved.path}" for saved in self.clerk.written[-5:]]
        return tuple(lines)

    def _counted_by(self) -> str:
        if self.judging.shown.clocked:
            return "by the sequencer's clock"
        if self.judging.shown.time_map is None:
            return "not counted; tap the tempo with t, or give --tempo"
        return "by the tempo given or tapped"
