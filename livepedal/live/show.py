"""What `listen` and `replay` have in common on the screen: the page that is looked at, what was said last, the
passages that are over, and keys.
"""

from __future__ import annotations

import time
from collections.abc import Sequence

from livepedal.live.chapters import Chapters
from livepedal.views.dashboard.desk import Act, Desk, Wish, press, unheard
from livepedal.views.dashboard.history import History
from livepedal.views.signs import FULL, Signs

STATUS = 8.0  # seconds that something said stays on the dashboard


class Screened:
    """Something that goes on in time and is shown; most of a `terminal.Show`."""

    acts: Sequence[Act] = ()  # what keys may ask for

    def __init__(self, signs: Signs = FULL, middle_c: str = "C4") -> None:
        self.signs = signs
        self.middle_c = middle_c
        self.desk = Desk()
        self._chapters = Chapters()
        self._happened = 0
        self._status = ""
        self._status_at = 0.0

    @property
    def history(self) -> History:
        """The passages that are over."""
        return self._chapters.history

    def happened(self) -> int:
        """A number that changes whenever something does."""
        return self._happened

    def remind(self, text: str) -> None:
        """Show a sentence on the dashboard for a while."""
        self._status, self._status_at = text, time.monotonic()
        self._happened += 1

    def details(self) -> str:
        """What was said last, while it is new."""
        return self._status if time.monotonic() - self._status_at < STATUS else ""

    def key(self, key: str) -> bool:
        """A key (views/dashboard/desk.py). False when it ends the show."""
        self._happened += 1
        self._status = ""  # whoever presses a key wants to see the keys
        why = unheard(self.desk, key, self.acts)
        if why:
            self.remind(why)
        self.desk, wish = press(self.desk, key, self.history.chapters, self.acts)
        return wish is None or self.grant(wish)

    def grant(self, wish: Wish) -> bool:
        """Do what a key asks for. False when it ends the show."""
        raise NotImplementedError
