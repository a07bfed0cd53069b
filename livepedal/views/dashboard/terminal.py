"""The terminal as a stage: takes the whole screen, draws frames, hears keys, and gives everything back.

Whatever ends the show, the screen, the cursor and the keyboard are as they were before: a key, an exception,
Ctrl-C, SIGTERM, SIGHUP. Handlers of signals only note the signal and wake the loop, which then leaves by the
same door as always. Ctrl-Z gives the terminal back too, and takes it again afterwards. Frames come at most
`FRAMES` times a second, and of a frame only the lines that differ from the last one are written. What a tone
is in escape sequences rich is asked once; the lines are joined from that here, since letting rich render each
of them again took half of the processor time of a frame.

Nothing musical happens here, and nothing here is needed in line mode.
"""

from __future__ import annotations

import contextlib
import os
import select
import signal
import sys
import time
from types import FrameType, TracebackType
from typing import Protocol

from rich.console import Console
from rich.control import Control

from livepedal.views.dashboard.desk import keys_in
from livepedal.views.dashboard.endings import noted
from livepedal.views.dashboard.paint import Painter
from livepedal.views.dashboard.screen import Scene, dashboard_lines
from livepedal.views.lines import Line, rich_text

FRAMES = 20  # at most so many a second while something happens
IDLE_FRAMES = 10  # while only time passes; clocks on the screen show tenths of a second


class Show(Protocol):
    """Something that goes on in time and can be looked at."""

    def step(self) -> bool:
        """Do what is due; False once it is over."""

    def rest(self) -> float:
        """Seconds until something is due again."""

    def happened(self) -> int:
        """A number that changes whenever something happens: a reason to draw at once."""

    def scene(self) -> Scene:
        """How it looks now."""

    def key(self, key: str) -> bool:
        """Take a key that was pressed; False when it ends the show."""


def can_draw(console: Console) -> bool:
    """Whether the output is a terminal with a screen to draw on, not a pipe and not a dumb terminal."""
    if not console.is_terminal or console.is_dumb_terminal:
        return False
    return os.name == "nt" or bool(os.environ.get("TERM"))


def run(show: Show, console: Console) -> int:
    """Show it until it is over. Returns the number of the signal that ended it, or 0."""
    with Screen(console) as screen:
        drawn_at = 0.0
        drawn = -1
        while screen.signal == 0:
            going = show.step()
            happened = show.happened()
            pause = 1 / FRAMES if happened != drawn else 1 / IDLE_FRAMES
            if time.monotonic() - drawn_at >= pause or not going:
                try:
                    screen.show(show)
                except OSError:
                    if screen.signal == 0:  # else it is the terminal that was closed
                        raise
                drawn_at, drawn = time.monotonic(), happened
            if not going:
                break
            pause = 1 / FRAMES if show.happened() != drawn else 1 / IDLE_FRAMES
            wait = min(show.rest(), max(drawn_at + pause - time.monotonic(), 0))
            for key in keys_in(screen.wait(wait)):
                drawn = -1
                if not show.key(key):
                    return 0
        return screen.signal


class Screen:
    """The whole screen of a terminal, taken on entering and given back on leaving."""

    def __init__(self, console: Console) -> None:
        self.signal = 0
        self.fault: Exception | None = None  # the last one in drawing
        self._console = console
        self._painter = None if console.legacy_windows else Painter(console)
        self._size = (0, 0)
        self._drawn: list[Line] = []
        self._rung = 0  # bells
        self._handlers = contextlib.ExitStack()  # of signals; closing it sets those that were there before
        self._keys = _Keyboard()

    def __enter__(self) -> Screen:
        self._take()
        self._handlers.enter_context(noted(self._ended))
        if hasattr(signal, "SIGTSTP"):
            before = signal.signal(signal.SIGTSTP, self._put_aside) or signal.SIG_DFL
            self._handlers.callback(signal.signal, signal.SIGTSTP, before)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._handlers.close()
        self._give_back()
        self._keys.close()
        if self.fault is not None and sys.stderr is not None:
            # Somebody should know, now that there is room to say it.
            with contextlib.suppress(OSError, ValueError):
                print(
                    f"livepedal: the screen could not always be drawn ({self.fault!r}); please report it.",
                    file=sys.stderr,
                )

    def show(self, show: Show) -> None:
        """Draw how it looks now. A fault in drawing is told on the screen, and ends nothing: what is listened to
        goes on being judged and recorded, and the next picture may be better.
        """
        try:
            self.draw(show.scene())
        except OSError:
            raise  # the terminal is gone
        except Exception as error:
            self.fault = error
            self._size = (0, 0)
            told = f"This cannot be drawn ({type(error).__name__}). Everything else continues; q quits."
            with self._console as console:
                console.control(Control.clear(), Control.move_to(0, 0))
                console.print(told, end="", soft_wrap=True, markup=False, highlight=False)

    def draw(self, scene: Scene) -> None:
        """Draw the scene in the size that the terminal has now: the lines that differ from those that stand
        there.
        """
        console = self._console
        size = console.size
        lines = dashboard_lines(scene, size.width, size.height)
        if size != self._size:
            self._size = size
            self._drawn = []
            console.control(Control.clear())
        fresh = [
            (row, line)
            for row, line in enumerate(lines)
            if row >= len(self._drawn) or line != self._drawn[row]
        ]
        if self._painter is not None:
            if fresh:
                console.file.write("".join([self._painter.at(row, line) for row, line in fresh]))
                console.file.flush()
        else:
            with console:  # gathers, and writes all at once on leaving
                for row, line in fresh:
                    console.control(Control.move_to(0, row))
                    console.print(rich_text([line]), end="", soft_wrap=True)
        self._drawn = lines
        if scene.bells > self._rung:  # several at once are one
            console.file.write("\a")
            console.file.flush()
        self._rung = scene.bells

    def wait(self, seconds: float) -> str:
        """Wait until a key is pressed, a signal comes or the time is over; the keys that were pressed."""
        return self._keys.wait(seconds)

    def _ended(self, number: int, frame: FrameType | None) -> None:
        self.signal = number
        self._keys.wake()

    def _put_aside(self, number: int, frame: FrameType | None) -> None:
        self._give_back()
        signal.signal(signal.SIGTSTP, signal.SIG_DFL)
        os.kill(os.getpid(), signal.SIGTSTP)
        # Here the process stands still until it is brought to the foreground again.
        signal.signal(signal.SIGTSTP, self._put_aside)
        self._size = (0, 0)
        self._take()

    def _take(self) -> None:
        self._keys.quiet()
        self._console.set_alt_screen(True)
        self._console.show_cursor(False)

    def _give_back(self) -> None:
        # A terminal that was closed (SIGHUP) takes no more writing; there is nothing left to give back to.
        with contextlib.suppress(OSError, ValueError):
            self._console.show_cursor(True)
            self._console.set_alt_screen(False)
            self._console.file.flush()
        self._keys.loud()


class _Keyboard:
    """The keyboard without echo and without waiting for Return.

    And a pipe that wakes whoever waits for a key.
    """

    def __init__(self) -> None:
        self._before: list[object] | None = None
        self._keyboard: int | None = None
        self._ear, self._mouth = os.pipe()
        with contextlib.suppress(OSError, ValueError, AttributeError):
            if sys.stdin.isatty():
                self._keyboard = sys.stdin.fileno()

    def quiet(self) -> None:
        if self._keyboard is None or os.name == "nt":
            return
        import termios

        with contextlib.suppress(termios.error):
            self._before = termios.tcgetattr(self._keyboard)
            mode = termios.tcgetattr(self._keyboard)
            mode[3] &= ~(termios.ECHO | termios.ICANON)
            mode[6][termios.VMIN], mode[6][termios.VTIME] = 1, 0
            termios.tcsetattr(self._keyboard, termios.TCSADRAIN, mode)

    def loud(self) -> None:
        if self._before is None or self._keyboard is None:
            return
        import termios

        with contextlib.suppress(termios.error):
            # What was typed and not used is not meant for the shell.
            termios.tcsetattr(self._keyboard, termios.TCSAFLUSH, self._before)  # type: ignore[arg-type]
        self._before = None

    def wake(self) -> None:
        with contextlib.suppress(OSError):
            os.write(self._mouth, b"\0")

    def wait(self, seconds: float) -> str:
        if os.name == "nt":
            return _windows_keys(seconds)
        ears = [self._ear] if self._keyboard is None else [self._ear, self._keyboard]
        ready, _, _ = select.select(ears, [], [], max(seconds, 0))
        if self._keyboard not in ready or self._keyboard is None:
            return ""
        try:
            pressed = os.read(self._keyboard, 64)
        except OSError:
            pressed = b""
        if not pressed:
            self._keyboard = None  # the keyboard is gone; never mind, the music goes on
        return pressed.decode("utf-8", "replace")

    def close(self) -> None:
        for end in (self._ear, self._mouth):
            with contextlib.suppress(OSError):
                os.close(end)


def _windows_keys(seconds: float) -> str:
    """Windows cannot wait for the keyboard and a clock at once, so it is asked every hundredth of a second."""
    if sys.platform != "win32":
        return ""
    import msvcrt

    until = time.monotonic() + seconds
    while True:
        pressed = ""
        while msvcrt.kbhit():
            pressed += msvcrt.getwch()
        left = until - time.monotonic()
        if pressed or left <= 0:
            return pressed
        time.sleep(min(left, 0.01))
