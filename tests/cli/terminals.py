"""A livepedal process in a real pseudo-terminal, with pyte as the terminal emulator."""

from __future__ import annotations

import contextlib
import fcntl
import os
import select
import signal
import struct
import subprocess
import sys
import termios
import time
from types import TracebackType

import pyte

PATIENCE = 180.0  # seconds; what takes so long has failed, on a busy machine too


class Terminal:
    """A terminal of some size with a livepedal command running in it. `raw`: every byte that it wrote."""

    def __init__(self, *arguments: str, columns: int = 80, rows: int = 24, **environment: str) -> None:
        self.screen = pyte.Screen(columns, rows)
        self.raw = b""
        self._stream = pyte.ByteStream(self.screen)
        self._master, self._slave = os.openpty()
        self._resize(columns, rows)
        self.mode = termios.tcgetattr(self._slave)
        kept = {
            k: v for k, v in os.environ.items() if k not in ("NO_COLOR", "COLUMNS", "LINES", "FORCE_COLOR")
        }
        slave = self._slave

        def take_terminal() -> None:  # so that Ctrl-C in the terminal becomes SIGINT
            fcntl.ioctl(slave, termios.TIOCSCTTY, 0)

        self.process = subprocess.Popen(
            [sys.executable, "-m", "livepedal", *arguments],
            stdin=slave,
            stdout=slave,
            stderr=slave,
            start_new_session=True,
            preexec_fn=take_terminal,
            env={**kept, "TERM": "xterm-256color", "PYTHONIOENCODING": "utf-8", **environment},
        )

    def __enter__(self) -> Terminal:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait()
        for end in (self._master, self._slave):
            with contextlib.suppress(OSError):
                os.close(end)

    def _resize(self, columns: int, rows: int) -> None:
        fcntl.ioctl(self._slave, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))

    def resize(self, columns: int, rows: int) -> None:
        self._resize(columns, rows)
        self.screen.resize(rows, columns)
        self.process.send_signal(signal.SIGWINCH)

    def read(self, seconds: float = 0.05) -> None:
        """Take what it writes within so many seconds."""
        ready, _, _ = select.select([self._master], [], [], seconds)
        if ready:
            with contextlib.suppress(OSError):  # the other end is closed
                data = os.read(self._master, 65536)
                self.raw += data
                self._stream.feed(data)

    def until(self, *texts: str) -> str:
        """Wait until all texts stand on the screen, over the end of a row too; the screen."""
        end = time.monotonic() + PATIENCE
        while time.monotonic() < end:
            shown = self.shown()
            flat = " ".join(shown.split())
            if all(text in shown or text in flat for text in texts):
                return shown
            self.read()
        raise AssertionError(f"{texts} not on the screen:\n{self.shown()}")

    def shown(self) -> str:
        return "\n".join(self.screen.display)

    def type(self, keys: bytes) -> None:
        os.write(self._master, keys)

    def hang_up(self) -> None:
        """The window is closed."""
        os.close(self._slave)
        os.close(self._master)

    def end(self) -> int:
        """Wait until the process is over; its return code."""
        limit = time.monotonic() + PATIENCE
        while self.process.poll() is None and time.monotonic() < limit:
            self.read()
        self.read()
        return self.process.wait(timeout=0.1)

    def given_back(self) -> bool:
        """Whether screen, cursor and keyboard are as they were before."""
        took, gave = self.raw.rfind(b"\x1b[?1049h"), self.raw.rfind(b"\x1b[?1049l")
        hid, showed = self.raw.rfind(b"\x1b[?25l"), self.raw.rfind(b"\x1b[?25h")
        return took < gave and hid < showed and termios.tcgetattr(self._slave) == self.mode
