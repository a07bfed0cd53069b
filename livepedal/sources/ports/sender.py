"""Sending to a MIDI output by way of the process that has it (outputs.py), from any thread and without ever waiting.

    any thread    Sender.send   puts a message into a queue, nothing else
    thread        _hand_over    from there into the pipe
    process       outputs.work  sends each message when it is due, and keeps account of what is on
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Sequence

from livepedal.errors import LivepedalError
from livepedal.sources import beside
from livepedal.sources.ports.outputs import Message, packed, work
from livepedal.sources.text import clean

_OPENING = 20.0  # seconds in which an output has to be open
_ENDING = 2.0  # seconds in which the process has to have let go
_MOST_WAITING = 100_000  # messages for an output that takes none; more are lost


class Sender:
    """An output that is open. name: of the port; there: whether it was, when `news` was last asked for."""

    def __init__(self, asked: str, role: str, backend: str | None = None) -> None:
        """Args:
        asked: a part of the port's name, or "virtual" for one of our own.
        role: what it is for, in a word, which a port of our own is named for.
        backend: name of the MIDI system; None: the first that answers.

        Raises LivepedalError where it cannot be opened.
        """
        self.there = True
        self._ended = False
        self._queue: queue.SimpleQueue[tuple[int, Sequence[Message]] | None] = queue.SimpleQueue()
        self._lost = self._told_lost = False
        self._process, self._pipe = beside.started(work, "livepedal-output", backend, asked, role)
        try:
            if not self._pipe.poll(_OPENING):
                raise LivepedalError(f"The MIDI output {clean(asked)} does not open; restart the MIDI system.")
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
        """Have a whole message sent. Never waits, never fails.

        Args:
            voice: who sends it, so that it can be let go of what it has switched on, and of nothing else.
            due: when, in ns of the monotonic clock; 0: at once.
        """
        self.send_all(voice, ((due, data),))

    def send_all(self, voice: int, messages: Sequence[Message]) -> None:
        """The same for many."""
        if self._queue.qsize() < _MOST_WAITING:
            self._queue.put((voice, messages))
        else:
            self._lost = True

    def let_go(self, voice: int) -> None:
        """Have everything switched off that a voice has on, and forget what it has that is due."""
        self.send(voice, ())

    def news(self) -> list[str]:
        """What has happened to the output since this was asked for the last time, a sentence each."""
        told = []
        try:
            while self._pipe.poll():
                told.append(self._pipe.recv())
        except (EOFError, OSError):
            if self._process.exitcode is not None and self.there:
                told.append("is not sent to any more: the process that did so has ended")
        for text in told:
            self.there = text.startswith(("is back", "did not"))
        if self._lost and not self._told_lost:
            self._told_lost = True
            told.append("takes nothing; what is sent to it is lost")
        return [f"{clean(self.name)} {text}" for text in told]

    def end(self) -> None:
        """Nothing more is sent; what is on is switched off."""
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
            try:
                frame = packed(*entry)
            except (ValueError, TypeError):  # no MIDI
                continue
            try:
                self._pipe.send_bytes(frame)
            except OSError:
                return  # the process has ended
