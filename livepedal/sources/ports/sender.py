"""Sending to a MIDI output by way of the process that has it (outputs.py), from any thread and without ever waiting.

`Sender.send` puts a message into a queue and does nothing else; a thread takes it from there to the process, which
sends each message when it is due and keeps account of what is on.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Sequence
from contextlib import suppress

from livepedal.errors import LivepedalError
from livepedal.sources import beside
from livepedal.sources.ports.outputs import Message, work
from livepedal.sources.text import clean

_OPENING = 20.0  # seconds in which an output has to be open
_ENDING = 2.0  # seconds in which the process has to have let go
_MOST_WAITING = 100_000  # messages for an output that takes none; more are lost


class Sender:
    """An open output.

    Attributes:
        name: of the port.
        there: whether it was there when `news` was last called.

    Args:
        asked: a part of the port's name, or "virtual" for one of our own.
        role: what it is for, in a word; a port of our own is named for it.
        backend: name of the MIDI system; None: the first that answers.

    Raises:
        LivepedalError: it cannot be opened.
    """

    def __init__(self, asked: str, role: str, backend: str | None = None) -> None:
        self.there = True
        self._ended = False
        self._queue: queue.SimpleQueue[tuple[int, Sequence[Message]] | None] = queue.SimpleQueue()
        self._lost = self._told_lost = False
        self._process, self._pipe = beside.started(work, "livepedal-output", backend, asked, role)
        try:
            if not self._pipe.poll(_OPENING):
                raise LivepedalError(
                    f"The MIDI output {clean(asked)} does not open; restart the MIDI system."
                )
            name, complaint = self._pipe.recv()
            if complaint:
                raise LivepedalError(complaint)
        except BaseException as error:
            self._process.kill()
            self._pipe.close()
            if isinstance(error, EOFError):
                raise LivepedalError(f"The MIDI output {clean(asked)} cannot be opened.") from None
            raise
        self.name: str = name
        self._thread = threading.Thread(target=self._hand_over, name="livepedal-output", daemon=True)
        self._thread.start()

    def send(self, voice: int, data: Sequence[int], due: int = 0) -> None:
        """Send a whole message. Never waits, never fails.

        Args:
            voice: who sends it; what a voice has on can be switched off by itself.
            data: the bytes of the message.
            due: when, in ns of `stamps.clock`; 0: at once.
        """
        self.send_all(voice, ((due, data),))

    def send_all(self, voice: int, messages: Sequence[Message]) -> None:
        """Send many messages, each with its moment."""
        if self._queue.qsize() < _MOST_WAITING:
            self._queue.put((voice, messages))
        else:
            self._lost = True

    def let_go(self, voice: int) -> None:
        """Switch off what a voice has on, and forget what it has sent that is not due yet."""
        self.send(voice, ())

    def news(self) -> list[str]:
        """What has happened to the output since the last call, a sentence each."""
        events = []
        try:
            while self._pipe.poll():
                events.append(self._pipe.recv())
        except (EOFError, OSError):
            if self._process.exitcode is not None and self.there:
                events.append("gets no more messages: the process that sends them has ended")
        for text in events:
            self.there = text.startswith(("is back", "did not"))
        if self._lost and not self._told_lost:
            self._told_lost = True
            events.append("accepts nothing; messages to it are lost")
        return [f"{clean(self.name)} {text}" for text in events]

    def end(self) -> None:
        """Switch off what is on, and send nothing more."""
        if self._ended:
            return
        self._ended = True
        self._queue.put(None)
        self._thread.join(_ENDING)
        if not self._thread.is_alive():
            self._pipe.close()
            self._process.join(_ENDING)
        if self._process.is_alive():
            self._process.kill()  # it waits for the system
            self._process.join(_ENDING)

    def _hand_over(self) -> None:
        while (entry := self._queue.get()) is not None:
            voice, messages = entry
            # Bytes that are no MIDI, or a process that has ended, which `news` tells.
            with suppress(ValueError, TypeError, OSError):
                self._pipe.send((voice, [(due, bytes(data)) for due, data in messages]))
