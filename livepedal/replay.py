"""A file played in real time through the Monitor, as if somebody were playing it now.

The music keeps its own time: each event is fed with the moment that it has in the file, so the verdicts are
those of `check` whatever the speed of playing, however late a frame is drawn, and however long it was paused.
Only here is a clock read, the monotonic one.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from functools import lru_cache, partial

from livepedal.harp import Figures, Instrument, Setting
from livepedal.model.findings import Finding, Layer, Passage, keep, worst
from livepedal.model.monitor import Monitor
from livepedal.music import ChoosePlayer, Part, SetPedals
from livepedal.sources.text import clean
from livepedal.views import words
from livepedal.views.dashboard import Scene
from livepedal.views.desk import Act, Desk, press
from livepedal.views.history import History
from livepedal.views.lines import Line, Tone, badge_of, line
from livepedal.views.plain import finding_line, passage_line
from livepedal.views.signs import FULL, Signs

ACTS = (Act.PAUSE, Act.PEDALS, Act.PLAYER, Act.AFRESH, Act.QUIT)
_SECOND = 1_000_000
_LONGEST_REST = 0.1  # seconds; a pedal that is free shows for how long, so the screen changes on its own


class Pace:
    """The clock of a replay: how far the music is (µs), at a speed, with pauses.

    clock: nanoseconds that never go back.
    """

    def __init__(self, speed: float = 1.0, clock: Callable[[], int] = time.monotonic_ns) -> None:
        self.speed = speed
        self._clock = clock
        self._since: int | None = clock()
        self._before = 0

    @property
    def paused(self) -> bool:
        return self._since is None

    def position(self) -> int:
        """How far the music is (µs)."""
        if self._since is None:
            return self._before
        return self._before + int((self._clock() - self._since) * self.speed) // 1000

    def pause(self) -> None:
        """Stop, or go on."""
        if self._since is None:
            self._since = self._clock()
        else:
            self._before = self.position()
            self._since = None

    def restart(self) -> None:
        """From the start, and going."""
        self._before, self._since = 0, self._clock()

    def until(self, us: int) -> float:
        """Seconds until the music is there; never below 0."""
        return max(us - self.position(), 0) / _SECOND / self.speed


class Replay:
    """One part on its way through a monitor.

    A `Show` for the dashboard, and a source of findings for line mode.
    """

    def __init__(
        self,
        part: Part,
        title: str,
        figures: Figures,
        instrument: Instrument,
        player: str = "working",
        *,
        only: tuple[Layer, ...] = (),
        start: Setting | None = None,
        pace: Pace | None = None,
        middle_c: str = "C4",
        signs: Signs = FULL,
        stays: bool = False,
    ) -> None:
        """stays: when the piece is over it can be looked back on until somebody ends it."""
        self.part = part
        self.title = title
        self._new = partial(Monitor, figures, instrument, only=only, follow=True)
        self._start = start
        self.pace = pace or Pace()
        self.stays = stays
        self.desk = Desk()
        self._drawn = False  # then nothing has to be said in lines
        self.middle_c = middle_c
        self.signs = signs
        # A passage is over when nothing has happened for so long; then the last one of the piece is as well.
        self._over_at = part.end_us + figures.passage_rest
        self._window = figures.attack_window
        self._place = lru_cache(maxsize=1024)(part.time_map.place)
        self._happened = 0
        self._begin(player)

    def _begin(self, player: str) -> None:
        """From the start of the piece."""
        self.monitor = self._new(player)
        self.history = History()
        self._next = 0
        self._over = False
        self._fresh: dict[int, Finding] = {}
        self._news: tuple[list[Finding], list[Passage]] = ([], [])
        self._told_passages = 0
        if self._start is not None:
            self.monitor.feed(SetPedals(0, self._start))

    def step(self) -> bool:
        """Feed what is due; False once the piece is over, and nobody looks back on it."""
        if self._over:
            return self.stays
        now = self.pace.position()
        events = self.part.events
        while self._next < len(events) and events[self._next].us <= now:
            keep(self._fresh, self.monitor.feed(events[self._next]))
            self._next += 1
        self.monitor.advance(min(now, self._over_at))
        if self._next == len(events) and now >= self._over_at:
            self.monitor.finish()
            self._over = True
            self._happened += 1
        self._gather()
        return self.stays or not self._over

    def rest(self) -> float:
        """Seconds until something is due."""
        if self.pace.paused or self._over:
            return _LONGEST_REST
        events = self.part.events
        due = events[self._next].us if self._next < len(events) else self._over_at
        return min(self.pace.until(due), _LONGEST_REST)

    def happened(self) -> int:
        """A number that changes with every event."""
        return self._happened + self._next

    def _gather(self) -> None:
        """Keep the findings and passages that are settled, for whoever asks.

        A finding is settled when its attack is over: until then a late note may revise it.
        """
        now = self.monitor.now
        settled = [f for f in self._fresh.values() if self._over or now - f.us > self._window]
        for finding in settled:
            del self._fresh[finding.id]
            self.history.found(finding)
        closed = [passage for passage in self.monitor.passages if not passage.open]
        passages = closed[self._told_passages :]
        self._told_passages = len(closed)
        for passage in passages:
            self.history.over(passage, self._place, entry=self.monitor.entry)
        if not self._drawn:
            self._news[0].extend(settled)
            self._news[1].extend(passages)

    def news(self) -> tuple[list[Finding], list[Passage]]:
        """Findings and passages that are settled and were not told before."""
        news, self._news = self._news, ([], [])
        return news

    def announcement(self) -> list[Line]:
        """What line mode says before the music starts."""
        text = (
            f"Replaying {clean(self.title)} for the {self.monitor.player.name} player;"
            f" middle C is {self.middle_c}."
        )
        return [line(self.signs.write(text))]

    def news_lines(self) -> list[Line]:
        """The news as lines, one each."""
        findings, passages = self.news()
        told = [(f.us, finding_line(f, self.part.time_map, self.signs, self.middle_c)) for f in findings]
        told += [(p.end, passage_line(p, self.part.time_map, self.signs)) for p in passages]
        return [line(text) for _, text in sorted(told, key=lambda item: item[0])]

    def summary(self) -> list[Line]:
        """What there is to say when it is over, or when somebody ended it."""
        passages = self.monitor.passages
        verdict = worst(passage.verdict for passage in passages)
        lines = [
            line(
                (f" {self.signs.shapes[verdict]} {verdict.word.upper()} ", badge_of(verdict)),
                (f" {self.signs.write(clean(self.title))}", Tone.STRONG),
            )
        ]
        if not self._over:
            heard = self.signs.write(words.moment(self.monitor.now))
            lines.append(line(f"  ended at {heard} of {words.moment(self.part.end_us)}"))
        for count in self.monitor.counts():
            if count.player == self.monitor.player.name:
                text = f"  the {count.player} player cannot play {count.unplayable} of"
                if not count.unplayable:
                    text = f"  the {count.player} player can play all of"
                text += f" {words.counted(self.monitor.attacks, 'attack')}"
                lines.append(line(text + (f", {count.audible} only audibly" if count.audible else "")))
        lines.append(
            line(("  livepedal check tells the setting, the pedal changes and every finding.", Tone.FAINT))
        )
        return lines

    def scene(self) -> Scene:
        """What the dashboard shows now."""
        self._drawn = True
        return Scene(
            snapshot=self.monitor.snapshot(),
            title=self.title,
            place=self._place,
            end=self.part.end_us,
            speed=self.pace.speed,
            state="paused" if self.pace.paused else "over" if self._over else "",
            desk=self.desk,
            chapters=self.history.chapters,
            acts=ACTS,
            input=(
                f"This is a file, not a keyboard: {self.title}.",
                f"It has {words.counted(len(self.part.events), 'event')} and lasts {words.moment(self.part.end_us)}.",
                "livepedal listen hears a MIDI keyboard; livepedal ports lists what there is.",
            ),
            middle_c=self.middle_c,
            signs=self.signs,
        )

    def key(self, key: str) -> bool:
        """A key (views/desk.py). False when it ends the replay."""
        self._happened += 1
        self.desk, wish = press(self.desk, key, self.history.chapters, ACTS)
        if wish is None:
            return True
        now = self.monitor.now
        match wish.act:
            case Act.QUIT:
                return False
            case Act.PAUSE:
                self.pace.pause()
            case Act.PLAYER:
                names = [player.name for player in self.monitor.players]
                after = names[(names.index(self.monitor.player.name) + 1) % len(names)]
                self.monitor.feed(ChoosePlayer(now, after))
            case Act.PEDALS:
                self.monitor.feed(SetPedals(now, Setting.parse(wish.text)))
            case Act.AFRESH:
                self.pace.restart()
                self._begin(self.monitor.player.name)
            case _:
                pass
        return True
