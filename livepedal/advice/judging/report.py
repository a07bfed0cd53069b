"""What was found out about one part, as plain values.

Nothing is decided here: verdicts and findings come from the model, the pedalling from its plan, places in the
music from the time map of the file.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from livepedal.advice.judging.groups import Group, groups_of
from livepedal.harp import Spelling
from livepedal.model.feet.tunings import Tuned
from livepedal.model.findings import Finding, Graded, Layer, Outcome, Passage, PlayerCount, Verdict
from livepedal.model.load import Load
from livepedal.model.plan.planner import Plan
from livepedal.model.plan.timing import PedalChange
from livepedal.music.attacks import Gathered
from livepedal.music.timemap import Place, TimeMap
from livepedal.music.tracks import TrackInfo
from livepedal.music.wording import counted, not_all_tried
from livepedal.sources.text import clean

if TYPE_CHECKING:
    from livepedal.advice.judging.asides import Aside
    from livepedal.model.hands import Figuration


@dataclass(frozen=True, slots=True)
class Count:
    """What one player met in a part.

    Attributes:
        changes: pedal changes of that player's plan; None where no plan was asked for.
        layers: the same in each layer that was judged; for load, passages with too much at once.
        undecided: attacks for which the search was cut short, which count as no fault.
    """

    player: str
    unplayable: int
    audible: int
    changes: int | None
    layers: Mapping[Layer, PlayerCount]
    undecided: int = 0

    @property
    def too_much(self) -> int:
        """Passages with too much at once, which no attack stands for."""
        return self.layers[Layer.LOAD].unplayable if Layer.LOAD in self.layers else 0

    @property
    def outcome(self) -> Outcome:
        """Whether this player can play the part."""
        if self.unplayable or self.too_much:
            return Outcome.CANNOT
        return Outcome.AUDIBLE if self.audible else Outcome.PLAYS


@dataclass(frozen=True, slots=True, repr=False)
class PartReport:
    """One harp part, judged. Times are in µs.

    Attributes:
        begin: where judging began.
        end: the end of its tracks.
        music: its attacks, in the order of the plan's.
        graded: the verdicts of the attacks that are not easy.
    """

    name: str
    tracks: tuple[TrackInfo, ...]
    notes: int
    attacks: int
    end: int
    verdict: Verdict
    audible: bool
    player: str
    outcome: Outcome
    counts: tuple[Count, ...]
    bounded: int
    plan: Plan
    passages: tuple[Passage, ...]
    findings: tuple[Finding, ...]
    time_map: TimeMap = field(repr=False)
    remarks: tuple[str, ...] = ()
    not_the_best: str = ""  # the one of them that the plan gives up more attacks than the verdict
    asides: tuple[Aside, ...] = ()
    played: tuple[Figuration, ...] = ()  # those that get a remark
    loads: tuple[Load, ...] = ()  # the chosen player's, one for each passage where that layer was judged
    tuned: tuple[Tuned, ...] = ()  # strings without pedals that are not tuned as usual
    music: Sequence[Gathered] = field(default=(), repr=False)
    written: Sequence[int] = field(default=(), repr=False)
    graded: tuple[Graded, ...] = field(default=(), repr=False)
    begin: int = 0

    def __repr__(self) -> str:
        found = f"{len(self.findings)} finding{'' if len(self.findings) == 1 else 's'}"
        return f"<PartReport {clean(self.name)!r}: {self.verdict.word}, {self.notes} notes, {found}>"

    @property
    def mine(self) -> Count:
        """What the chosen player met in it."""
        return next(count for count in self.counts if count.player == self.player)

    def attacks_that(self, outcome: Outcome) -> list[int]:
        """The moments (µs) of the attacks with which the chosen player fares so."""
        number = self.counts.index(self.mine)
        return [one.us for one in self.graded if one.outcomes[number] is outcome]

    @property
    def planned(self) -> bool:
        """Whether there is a plan of the pedal changes; none where no layer that was judged needs it."""
        return any(count.changes is not None for count in self.counts)

    @property
    def troubled(self) -> bool:
        """Whether there is a player who has any trouble with it."""
        return any(count.outcome is not Outcome.PLAYS for count in self.counts)

    @property
    def otherwise(self) -> bool:
        """Whether a finding names a pedal change that the plan does without.

        The verdict knows only what came before, and stops at each attack that cannot be played; the plan knows it all.
        """
        planned = {(change.attack_us, change.pedal, change.goal) for change in self.plan.changes}
        named = {(one.us, one.pedal, one.goal) for one in self.findings if one.pedal is not None}
        return self.planned and not named <= planned

    @property
    def spelled(self) -> Iterator[tuple[Gathered, Sequence[Spelling | None]]]:
        """The attacks, and how the plan plays each note: None where it leaves it out, or where there is no plan."""
        for number, attack in enumerate(self.music):
            yield attack, self.plan.spellings[number] if self.planned else (None,) * len(attack.notes)

    @property
    def plan_note(self) -> str:
        """What is to be said of the search for the pedal changes wherever they are told, "" for nothing."""
        if self.not_the_best or not (self.plan.bounded and self.plan.changes):
            return self.not_the_best
        over = self.plan.over
        return not_all_tried("pedalling") + (
            f" (it could save at most {counted(over.count, over.what)})" if over else ""
        )

    @property
    def notes_below(self) -> tuple[str, ...]:
        """The remarks under a report of the pedal changes, that on the search for them among them."""
        known = self.plan_note in ("", *self.remarks)
        return self.remarks if known else (*self.remarks, self.plan_note)

    @property
    def groups(self) -> tuple[Group, ...]:
        """Its findings as they are told: those of one kind on the same notes within one passage are one."""
        return groups_of(self.findings, self.passages)

    @property
    def struck(self) -> tuple[int, ...]:
        """The moments of its attacks."""
        return tuple(attack.us for attack in self.music)

    def place(self, us: int) -> Place:
        """Bar and beat of a moment (µs), as people are told."""
        return self.time_map.told(us)

    def told_at(self, change: PedalChange) -> int:
        """The moment (µs) at which a part would have a change of the plan."""
        return self.plan.told_at(change, self.time_map)

    def place_of(self, change: PedalChange) -> Place:
        """Bar and beat at which a part would have a change of the plan."""
        return self.place(self.told_at(change))
