"""A closed passage heard again from an output: as it was played, or at the tempo that was advised.

All of it is handed over at once, each message with the moment at which it is due (sources/ports/sender.py).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from fractions import Fraction

from livepedal.advice.remedies.telling import percent_of
from livepedal.live.chapters import PastPassage
from livepedal.live.question import Question
from livepedal.music.events import Event, NoteOff, NoteOn, Sustain
from livepedal.sources.ports import stamps
from livepedal.sources.ports.outputs import AGAIN
from livepedal.sources.ports.sender import Sender
from livepedal.sources.raw import CONTROLLER, NOTE_OFF, NOTE_ON, SUSTAIN
from livepedal.views.dashboard.desk import NO_OUTPUT

NO_PASSAGE = "no passage is over yet, so there is none to hear again"
_SOON = 50_000_000  # ns until it starts


def message_of(event: Event) -> tuple[int, ...]:
    """An event as MIDI, on its own channel; empty for one that makes no sound."""
    match event:
        case NoteOn():
            return NOTE_ON | event.source & 15, event.pitch, event.velocity
        case NoteOff():
            return NOTE_OFF | event.source & 15, event.pitch, 64
        case Sustain():
            return CONTROLLER | event.source & 15, SUSTAIN, 127 * event.down
    return ()


def sounds_of(question: Question) -> Iterator[tuple[int, tuple[int, ...]]]:
    """The messages of a passage with their moments from its start (µs)."""
    passage = question.passage
    for event in question.events:
        if passage.start <= event.us <= passage.end and (message := message_of(event)):
            yield event.us - passage.start, message


class Again:
    """Plays passages at an output; for any thread."""

    def __init__(self, sender: Sender | None, clock: Callable[[], int] = stamps.clock) -> None:
        self.sender = sender
        self._clock = clock
        self._playing: tuple[int, bool] = (0, False)  # the number of a passage, and whether it is slower
        self._until = 0

    def press(self, past: PastPassage | None) -> str:
        """The key was pressed: play this passage, play it slower, or stop it; what to say."""
        if self.sender is None:
            return NO_OUTPUT
        if past is None:
            return NO_PASSAGE
        number, ratio = past.chapter.number, past.ratio
        playing = self._playing if self._clock() < self._until else (0, False)
        self.stop()
        if playing == (number, False) and ratio is not None:
            self._play(self.sender, past, ratio)
            return f"passage {number} at {percent_of(ratio)} of the tempo; a stops it"
        if playing[0] == number:
            return f"passage {number} stopped"
        self._play(self.sender, past, Fraction(1))
        then = "stops it" if ratio is None else f"again plays it at {percent_of(ratio)} of the tempo"
        return f"passage {number} as it was played; a {then}"

    def stop(self) -> None:
        """Silence what is playing."""
        self._until = 0
        if self.sender is not None:
            self.sender.let_go(AGAIN)

    def _play(self, sender: Sender, past: PastPassage, ratio: Fraction) -> None:
        start = self._clock() + _SOON
        messages = [
            (start + us * 1000 * ratio.denominator // ratio.numerator, message)
            for us, message in sounds_of(past.question)
        ]
        self._playing = past.chapter.number, ratio != 1
        self._until = messages[-1][0] if messages else start
        sender.send_all(AGAIN, messages)
