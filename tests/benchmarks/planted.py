"""Show that exactness can fail: `python -m tests.benchmarks.planted` plants wrong rules, one after another.

For each it says in which case of the exactness run (tests/benchmarks/exactness.py, same seed) the judge
notices: a horizon (owed changes are forgotten after three cycles), earliest-fit placing (changes are made in
the order in which their strings come free, each as early as it may be), a forgotten tail (a foot counts
as quiet when its last change has begun, its cycle not over), a forgotten finger (a foot counts as quiet though a
string that is plucked again may be damped, and so changed, before that), loud strings that count as free, and a
finger that damps every string of its letter.
"""

from __future__ import annotations

import argparse
import random
import sys
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import replace
from functools import partial
from typing import Any
from unittest import mock

from livepedal.model.feet import free, letters
from livepedal.model.feet.covering import Reading, Readings
from livepedal.model.feet.free import FreeRule
from livepedal.model.feet.readings import FootRules
from livepedal.model.feet.schedule import Changes
from tests.benchmarks.exactness import NOTIONS, disagreement
from tests.judge import passages
from tests.model import playing


@contextmanager
def a_horizon() -> Iterator[None]:
    honest = FootRules.forget

    def forget(self: FootRules, reading: Reading, moment: int, first_pedal: int) -> Reading:
        stand, owed = honest(self, reading, moment, first_pedal)
        return stand, tuple(change for change in owed if change[0] > moment - 3 * self.cycle)

    with mock.patch.object(FootRules, "forget", forget):
        yield


@contextmanager
def earliest_fit() -> Iterator[None]:
    honest = FootRules.attack

    def placeable(cycle: int, changes: Changes) -> bool:
        now = -(1 << 61)
        for latest, earliest, _ in sorted(changes, key=lambda change: change[1]):
            now = max(now, earliest)
            if now > latest:
                return False
            now += cycle
        return True

    def attack(self: FootRules, *arguments: Any, **named: Any) -> Readings:
        if self.two_at_once:
            # A foot that may move two pedals at once keeps its own test.
            return honest(self, *arguments, **named)
        # Only here: feet that never counted as quiet would keep every reading there is.
        kept, self.can_place = self.can_place, partial(placeable, self.cycle)
        try:
            return honest(self, *arguments, **named)
        finally:
            self.can_place = kept

    with mock.patch.object(FootRules, "attack", attack):
        yield


@contextmanager
def a_forgotten_tail() -> Iterator[None]:
    honest = FootRules.forget

    def forget(self: FootRules, reading: Reading, moment: int, first_pedal: int) -> Reading:
        kept = self.cycle, self.margin
        self.cycle, self.margin = 0, self.latest_lead
        try:
            return honest(self, reading, moment, first_pedal)
        finally:
            self.cycle, self.margin = kept

    with mock.patch.object(FootRules, "forget", forget):
        yield


@contextmanager
def a_forgotten_finger() -> Iterator[None]:
    def soonest(self: FreeRule, since: int, sounding: free.Sounding, _: int) -> int:
        return self.free_for(since, sounding, 0, 0)

    with mock.patch.object(FreeRule, "soonest", soonest):
        yield


@contextmanager
def no_loud_string() -> Iterator[None]:
    honest = FreeRule.free

    def no_loudness(self: FreeRule, *arguments: Any) -> int:
        return honest(replace(self, loud=(0,) * 128), *arguments)

    with mock.patch.object(FreeRule, "free", no_loudness):
        yield


@contextmanager
def any_finger_damps() -> Iterator[None]:
    def same_strings(keys: int) -> int:
        return (1 << 128) - 1 if keys else 0

    with (
        mock.patch.object(free, "same_strings", same_strings),
        mock.patch.object(letters, "same_strings", same_strings),
    ):
        yield


def noticed_after(fault: Callable[[], AbstractContextManager[None]], most: int, seed: int) -> str:
    """Which case of the exactness run with this seed is the first to show the fault, and what kind of passage
    it is.

    The judge is only asked where the fault changes what the model says: elsewhere the two agree as they do in
    the exactness run.
    """
    rng = random.Random(seed)
    count = 0
    for passage in passages.passages((most + 1) // 2, seed):
        figures = passages.sounding(rng, passages.random_figures(rng))
        honest = playing.first_unplayable(passage, figures)
        with fault():
            first = playing.first_unplayable(passage, figures)
        for notion in NOTIONS:
            count += 1
            if first[notion] == honest[notion]:
                continue
            said = disagreement(passage, figures, notion, first[notion])
            if said is not None:
                return f"noticed in case {count} ({passage.kind}, {notion}): {said}"
    return ""


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--most", type=int, default=20_000)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    missed = 0
    faults = a_horizon, earliest_fit, a_forgotten_tail, a_forgotten_finger, no_loud_string, any_finger_damps
    for fault in faults:
        said = noticed_after(fault, options.most, options.seed)
        missed += not said
        print(
            f"{fault.__name__.replace('_', ' ')}: {said or f'not noticed in {options.most} cases'}",
            flush=True,
        )
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
