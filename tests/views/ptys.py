"""A pseudo-terminal in this process, with pyte as the terminal emulator behind it, and replays with a clock of
their own: what is on the screen at a given moment of a recording.
"""

from __future__ import annotations

import fcntl
import os
import struct
import termios
import threading
from pathlib import Path
from types import TracebackType

import pyte
from rich.console import Console

from livepedal.advice.judging.basis import Basis
from livepedal.harp import Figures
from livepedal.live.playback import Pace
from livepedal.model.findings import Layer
from livepedal.music.parts import choose_parts
from livepedal.music.song import read_song
from livepedal.replay import Replay
from livepedal.views.dashboard.screen import Scene
from livepedal.views.dashboard.terminal import Screen
from livepedal.views.signs import FULL, Signs
from tests.live.here import AdvisorHere
from tests.places import EVERY_RECORDING

FIGURES = Figures.builtin()
RECORDINGS = EVERY_RECORDING
_MARK = "\x06"  # means nothing to a terminal; what was written before it has been read when it is
FRAME = 50_000_000  # ns, twenty to the second


class Pty:
    """A terminal that scenes are drawn on. `raw`: every byte that was written."""

    def __init__(self, columns: int, rows: int, colour: bool = True) -> None:
        self._master, slave = os.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        self.file = os.fdopen(slave, "w", encoding="utf-8")
        self.console = Console(
            file=self.file,
            force_terminal=True,
            color_system="truecolor",
            no_color=not colour,
            width=columns,
            height=rows,
        )
        self.emulator = pyte.Screen(columns, rows)
        self._stream = pyte.ByteStream(self.emulator)
        self.raw = b""
        self._drawn = threading.Event()
        self.screen = Screen(self.console)
        self._lock = threading.Lock()
        # A terminal holds but a few thousand bytes that nobody reads; then whoever draws on it waits.
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def __enter__(self) -> Pty:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.file.close()
        self._reader.join(10)
        os.close(self._master)

    def draw(self, scene: Scene) -> list[str]:
        """Draw, and the rows of the screen afterwards."""
        self.screen.draw(scene)
        return self.rows()

    def rows(self) -> list[str]:
        self.file.write(_MARK)
        self.file.flush()
        assert self._drawn.wait(60)
        self._drawn.clear()
        with self._lock:
            return list(self.emulator.display)

    def _read(self) -> None:
        mark = _MARK.encode()
        while True:
            try:
                data = os.read(self._master, 65536)
            except OSError:  # how Linux says that the other end is closed
                return
            if not data:
                return
            with self._lock:
                self._stream.feed(data.replace(mark, b""))
                self.raw += data.replace(mark, b"")
            if mark in data:
                self._drawn.set()

    def resize(self, columns: int, rows: int) -> None:
        self.rows()
        self.console.size = (columns, rows)  # type: ignore[assignment]
        self.emulator.resize(rows, columns)


class Watched:
    """A recording on its way through a replay, as far as one likes."""

    def __init__(
        self, path: Path, only: tuple[Layer, ...] = (), signs: Signs = FULL, advised: bool = False
    ) -> None:
        self._ns = 0
        part = choose_parts(read_song(path))[0]
        pace = Pace(clock=lambda: self._ns)
        basis = Basis(FIGURES, FIGURES.instrument("47"), layers=only)
        self.replay = Replay(
            part,
            path.name,
            basis,
            pace=pace,
            signs=signs,
            stays=True,
            advisor=AdvisorHere if advised else None,
        )
        self.end = part.end_us / 1e6

    def until(self, seconds: float, pty: Pty | None = None) -> None:
        """Go on to there, drawing twenty frames a second where there is something to draw on."""
        goal = int(seconds * 1e9)
        while self._ns < goal:
            self._ns = min(self._ns + FRAME, goal)
            self.replay.goes_on()
            if pty is not None:
                pty.draw(self.replay.scene())
