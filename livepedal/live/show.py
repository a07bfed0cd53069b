"""What `listen` and `replay` have in common on the screen: the page that is looked at, what was said last, the
passages that are over, and keys.
"""

from __future__ import annotations

import time
from dataclasses import replace

from livepedal.live.chapters import Chapters
from livepedal.model.findings import Snapshot, Verdict
from livepedal.views.dashboard.desk import Act, Desk, Wish, press, unheard
from livepedal.views.dashboard.history import Chapter
from livepedal.views.signs import FULL, Signs

HOLD = 500_000  # µs that the verdict of the last attack stays at the least
SUSTAIN = "The sustain pedal is {}. It never causes a finding: harp strings ring on anyway."
STATUS = 8.0  # seconds that something said stays on the dashboard


class Steady:
    """The verdict of the last attack, so that it can be read: in a trill it would change with every note."""

    def __init__(self) -> None:
        self._shown: Verdict | None = None
        self._since = 0

    def __call__(self, snapshot: Snapshot) -> Snapshot:
        """The snapshot with the verdict that is to be shown at its moment."""
        held = self._shown is not None and 0 <= snapshot.us - self._since < HOLD
        if not held and snapshot.latest is not self._shown:
            self._shown, self._since = snapshot.latest, snapshot.us
        return replace(snapshot, latest=self._shown)


class Screened:
    """Something that goes on in time and is shown; most of a `terminal.Show`."""

    acts: tuple[Act, ...] = ()  # what keys may ask for

    def __init__(self, signs: Signs = FULL, middle_c: str = "C4") -> None:
        self.signs = signs
        self.middle_c = middle_c
        self.desk = Desk()
        self._chapters = Chapters()
        self._steady = Steady()
        self._happened = 0
        self._status = ""
        self._status_at = 0.0

    @property
    def chapters(self) -> tuple[Chapter, ...]:
        """The passages that are over."""
        return self._chapters.chapters

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
        self.desk, wish = press(self.desk, key, self.chapters, self.acts)
        return wish is None or self.grant(wish)

    def passage_of(self, wish: Wish) -> int:
        """The number of the passage that a wish is about: the one that was chosen, else the last; 0 for none."""
        return int(wish.text or (self.chapters[-1].number if self.chapters else 0))

    def grant(self, wish: Wish) -> bool:
        """Do what a key asks for. False when it ends the show."""
        raise NotImplementedError
