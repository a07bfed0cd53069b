"""The whole terminal: takes the screen, draws frames, reads keys, and gives everything back.

Whatever ends the show (a key, an exception, Ctrl-C, SIGTERM, SIGHUP), the screen, the cursor and the keyboard are as
they were before. Handlers of signals only note the signal; the loop, which never waits for long, then leaves as it
always does. Ctrl-Z gives the terminal back too, and takes it again afterwards. Of a frame only the lines that differ
from the last one are written.
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
from rich.segment import Segment, Segments

from livepedal.views.dashboard.desk import keys_in
from livepedal.views.dashboard.endings import noted
from livepedal.views.dashboard.screen import Scene, dashboard_lines
from livepedal.views.lines import Line, segments

FRAMES = 20  # at most so many a second while something happens
IDLE_FRAMES = 10  # while only time passes; clocks on the screen show tenths of a second


class Show(Protocol):
    """Something that goes on in time and can be looked at."""

    def goes_on(self) -> bool:
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
    """Show it until it is over.

    Returns:
        The number of the signal that ended it, or 0.
    """
    with Screen(console) as screen:
        drawn_at = 0.0
        drawn = -1
        while screen.signal == 0:
            going = show.goes_on()
            happened = show.happened()
            pause = 1 / (FRAMES if happened != drawn else IDLE_FRAMES)
            if time.monotonic() - drawn_at >= pause or not going:
                try:
                    screen.show(show)
                except OSError:
                    if screen.signal == 0:  # else it is the terminal that was closed
                        raise
                drawn_at, drawn = time.monotonic(), happened
            if not going:
                break
            for key in keys_in(screen.pressed(min(show.rest(), 1 / FRAMES))):
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
        self._size = (0, 0)
        self._drawn: list[Line] = []
        self._rung = 0  # bells
        self._handlers = contextlib.ExitStack()  # of signals; closing it sets those that were there before
        self._keyboard: int | None = None
        self._mode: list[object] | None = None  # of the keyboard, before
        with contextlib.suppress(OSError, ValueError, AttributeError):
            if sys.stdin.isatty():
                self._keyboard = sys.stdin.fileno()

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
        if self.fault is not None and sys.stderr is not None:
            with contextlib.suppress(OSError, ValueError):
                print(
                    f"livepedal: the screen could not always be drawn ({self.fault!r}); please report it.",
                    file=sys.stderr,
                )

    def show(self, show: Show) -> None:
        """Draw how it looks now.

        A fault in drawing is told on the screen, and ends nothing: what is heard is still judged and recorded, and the
        next picture may be better.
        """
        try:
            self.draw(show.scene())
        except OSError:
            raise  # the terminal is gone
        except Exception as error:
            self.fault = error
            self._size = (0, 0)
            text = f"The screen cannot be drawn ({type(error).__name__}). Everything else continues; q quits."
            self._console.print(Segments([*_home(), Segment(text)]), soft_wrap=True)

    def draw(self, scene: Scene) -> None:
        """Draw the scene in the size that the terminal has now: the lines that differ from those there."""
        size = self._console.size
        lines = dashboard_lines(scene, size.width, size.height)
        written: list[Segment] = []
        if size != self._size:
            self._size = size
            self._drawn = []
            written += _home()
        for row, line in enumerate(lines):
            if row >= len(self._drawn) or line != self._drawn[row]:
                written += [Control.move_to(0, row).segment, *segments(line)]
        self._drawn = lines
        if scene.bells > self._rung:  # several at once are one
            written.append(Control.bell().segment)
        self._rung = scene.bells
        if written:
            self._console.print(Segments(written), soft_wrap=True)

    def pressed(self, seconds: float) -> str:
        """The keys that are pressed, as soon as there are any; "" once the time is over."""
        if sys.platform == "win32":
            return _windows_keys(seconds)
        if self._keyboard is None:
            time.sleep(max(seconds, 0))
            return ""
        if not select.select([self._keyboard], [], [], max(seconds, 0))[0]:
            return ""
        try:
            pressed = os.read(self._keyboard, 64)
        except OSError:
            pressed = b""
        if not pressed:
            self._keyboard = None  # the keyboard is gone; the music goes on
        return pressed.decode("utf-8", "replace")

    def _ended(self, number: int, frame: FrameType | None) -> None:
        self.signal = number

    def _put_aside(self, number: int, frame: FrameType | None) -> None:
        self._give_back()
        signal.signal(signal.SIGTSTP, signal.SIG_DFL)
        os.kill(os.getpid(), signal.SIGTSTP)
        # Here the process stands still until it is brought to the foreground again.
        signal.signal(signal.SIGTSTP, self._put_aside)
        self._size = (0, 0)
        self._take()

    def _take(self) -> None:
        if self._keyboard is not None and os.name != "nt":
            import termios
            import tty

            with contextlib.suppress(termios.error):
                self._mode = termios.tcgetattr(self._keyboard)
                tty.setcbreak(self._keyboard, termios.TCSADRAIN)
        self._console.set_alt_screen(True)
        self._console.show_cursor(False)

    def _give_back(self) -> None:
        # A terminal that was closed (SIGHUP) takes no more writing; there is nothing left to give back to.
        with contextlib.suppress(OSError, ValueError):
            self._console.show_cursor(True)
            self._console.set_alt_screen(False)
            self._console.file.flush()
        if self._mode is not None and self._keyboard is not None:
            import termios

            with contextlib.suppress(termios.error):
                # What was typed and not used is not meant for the shell.
                termios.tcsetattr(self._keyboard, termios.TCSAFLUSH, self._mode)  # type: ignore[arg-type]
            self._mode = None


def _home() -> list[Segment]:
    return [Control.clear().segment, Control.home().segment]


def _windows_keys(seconds: float) -> str:
    """Windows cannot wait for the keyboard and a clock at once, so it is asked every hundredth of a second."""
    if sys.platform != "win32":
        return ""
    import msvcrt

    until = time.monotonic() + seconds
    while not msvcrt.kbhit() and time.monotonic() < until:
        time.sleep(0.01)
    pressed = ""
    while msvcrt.kbhit():
        pressed += msvcrt.getwch()
    return pressed
