"""Passages that are over, to be heard again from an output: as they were played, or at the tempo that was advised.

To play a passage is to hand all of it over with the moments at which it is due (sources/ports/sender.py).
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator
from fractions import Fraction

from livepedal.advice.remedies.remedy import Remedy, RemedyKind
from livepedal.advice.remedies.telling import percent_of
from livepedal.live.chapters import MOST_CHAPTERS
from livepedal.live.question import Question
from livepedal.music.events import Event, NoteOff, NoteOn, Sustain
from livepedal.sources.ports.outputs import AGAIN
from livepedal.sources.ports.sender import Sender
from livepedal.sources.raw import CONTROLLER, NOTE_OFF, NOTE_ON, SUSTAIN
from livepedal.views.dashboard.desk import NO_OUTPUT

NO_PASSAGE = "no passage is over yet, so there is none to hear again"
_SOON = 50_000_000  # ns until it starts


def message_of(event: Event) -> tuple[int, ...]:
    """An event as MIDI has it, on its own channel; empty for one that makes no sound."""
    match event:
        case NoteOn():
            return NOTE_ON | event.source & 15, event.pitch, event.velocity
        case NoteOff():
            return NOTE_OFF | event.source & 15, event.pitch, 64
        case Sustain():
            return CONTROLLER | event.source & 15, SUSTAIN, 127 * event.down
    return ()


def sounds_of(question: Question) -> Iterator[tuple[int, tuple[int, ...]]]:
    """What the passage is made of that a question asks about: moments from its start (µs), and messages."""
    passage = question.passage
    for event in question.events:
        if passage.start <= event.us <= passage.end and (message := message_of(event)):
            yield event.us - passage.start, message


class Again:
    """The passages of a session or a replay, by their numbers in its history. For any thread."""

    def __init__(self, sender: Sender | None, clock: Callable[[], int] = time.monotonic_ns) -> None:
        """sender: None where there is no output; then nothing is kept."""
        self.sender = sender
        self._clock = clock
        self._kept: dict[int, Question] = {}
        self._ratios: dict[int, Fraction] = {}
        self._playing: tuple[int, bool] = (0, False)  # the number of a passage, and whether it is slower
        self._until = 0

    def keep(self, number: int, question: Question) -> None:
        """A passage is over."""
        if self.sender is not None:
            self._kept[number] = question
            self._kept.pop(number - MOST_CHAPTERS, None)
            self._ratios.pop(number - MOST_CHAPTERS, None)

    def advised(self, number: int, remedies: Iterable[Remedy]) -> None:
        """What would mend it is known."""
        for remedy in remedies:
            if remedy.kind is RemedyKind.TEMPO and remedy.ratio is not None:
                self._ratios[number] = remedy.ratio

    def press(self, number: int) -> str:
        """The key was pressed: the passage of this number is to be heard, slower, or no more. What to say."""
        if self.sender is None:
            return NO_OUTPUT
        if number not in self._kept:
            return NO_PASSAGE
        ratio = self._ratios.get(number)
        sounding = self._playing if self._clock() < self._until else (0, False)
        self.stop()
        if sounding == (number, False) and ratio is not None:
            self._play(number, ratio)
            return f"passage {number} at {percent_of(ratio)} of the tempo; a stops it"
        if sounding[0] == number:
            return f"passage {number} stopped"
        self._play(number, Fraction(1))
        then = "stops it" if ratio is None else f"again: at {percent_of(ratio)} of the tempo"
        return f"passage {number} as it was played; a {then}"

    def stop(self) -> None:
        """What sounds stops."""
        self._until = 0
        if self.sender is not None:
            self.sender.let_go(AGAIN)

    def _play(self, number: int, ratio: Fraction) -> None:
        assert self.sender is not None
        start = self._clock() + _SOON
        messages = [
            (start + us * 1000 * ratio.denominator // ratio.numerator, message)
            for us, message in sounds_of(self._kept[number])
        ]
        self._playing, self._until = (number, ratio != 1), messages[-1][0] if messages else start
        self.sender.send_all(AGAIN, messages)
