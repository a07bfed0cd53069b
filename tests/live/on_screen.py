"""A session that is played by hand, and what its screen shows: no clock, no threads, advice at once or not at all."""

from __future__ import annotations

from dataclasses import replace

from livepedal.harp import Pedal, Setting
from livepedal.live.advising import advise
from livepedal.live.question import Question
from livepedal.live.session import Session
from livepedal.live.show import Screened
from livepedal.sources.journal import Word
from livepedal.views.dashboard.desk import Wish
from livepedal.views.dashboard.history import Chapter
from livepedal.views.dashboard.screen import Scene, dashboard_lines
from livepedal.views.lines import plain_text
from tests.live.here import AdvisorHere
from tests.live.streams import setup

SECOND = 1_000_000


class Later(AdvisorHere):
    """Keeps the questions until somebody wants them answered."""

    def ask(self, question: Question) -> None:
        self.questions = [*getattr(self, "questions", []), question]

    def answer(self) -> None:
        for question in self.questions:
            super().ask(question)
        self.questions = []


class Played(Screened):
    """chords and rests, one after the other. setting: as `s` would set it, so long (s) before the first note."""

    def __init__(self, setting: str = "", lead: float = 0.005, tempo: int | None = None) -> None:
        super().__init__(advisor=Later)
        self.session = Session(replace(setup(), tempo=tempo))
        self.us = 0
        if setting:
            self.command(Word.PEDALS, str(Setting.parse(setting)))
            self.us += round(lead * SECOND)

    @property
    def lines(self) -> list[str]:
        """All that was said."""
        return [text for text in self._lines if isinstance(text, str)]

    def _tell(self) -> None:
        for news in self.session.news():
            self.tell(news)

    def command(self, word: str, argument: str = "") -> None:
        self.session.command(self.us, word, argument)
        self._tell()

    def wait(self, seconds: float) -> None:
        self.us += round(seconds * SECOND)
        self.session.advance(self.us)
        self._tell()

    def down(self, *pitches: int) -> None:
        for pitch in pitches:
            take = self.session.take
            self.nearest.ask(take, self.session.message(self.us, 0, bytes((0x90, pitch, 64))))
        self._tell()

    def up(self, *pitches: int) -> None:
        for pitch in pitches:
            self.session.message(self.us, 0, bytes((0x80, pitch, 0)))
        self._tell()

    def chord(self, *pitches: int, seconds: float = 0.3) -> None:
        self.down(*pitches)
        self.wait(seconds)
        self.up(*pitches)

    def line(self, *pitches: int, seconds: float = 0.3) -> None:
        for pitch in pitches:
            self.chord(pitch, seconds=seconds)

    def over(self, answered: bool = True) -> Chapter:
        """A rest; the passage that is over then, advised on or not."""
        self.wait(2)
        if answered:
            assert isinstance(self.advisor, Later)
            self.advisor.answer()
        return self.chapters[-1]

    def saved(self) -> bytes:
        from tests.live.streams import saved

        self.session.finish(self.us)
        return saved(self.session)[0]

    def scene(self) -> Scene:
        take = self.session.take
        place = take.time_map.place if take.musical else lambda us: None
        snapshot = self._steady(take.snapshot())
        return Scene(
            snapshot,
            "a keyboard",
            place,
            chapters=self.chapters,
            desk=self.desk,
            instead=lambda number, finding: self.nearest.of(number or take.number, finding),
        )

    def grant(self, wish: Wish) -> bool:
        raise AssertionError(wish)

    def screen(self, width: int = 80, height: int = 24) -> list[str]:
        return [plain_text(row) for row in dashboard_lines(self.scene(), width, height)]

    def stands(self) -> dict[str, str]:
        """The panel's row of how the pedals stand, by letter."""
        row = next(row for row in self.screen() if row.startswith("stands"))[7:].replace("┃", " ")
        width = (80 - 7 - 3) // 7
        starts = [n * width + (3 if n > 2 else 0) for n in range(7)]
        return {
            pedal.letter: row[start : start + width].strip()
            for pedal, start in zip(Pedal, starts, strict=True)
        }


__all__ = ["SECOND", "Played", "advise"]
