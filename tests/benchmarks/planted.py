"""Show that exactness can fail: `python -m tests.benchmarks.planted` plants three wrong rules, one after another.

For each it says after how many cases of the exactness run (tests/benchmarks/exactness.py) the judge noticed:
a horizon (owed changes are forgotten after three cycles), earliest-fit placing (changes are made in the order in
which their strings come free, each as early as it may be), and a forgotten tail (a foot counts as quiet when its last
change has begun, its cycle not over).
"""

from __future__ import annotations

import argparse
import itertools
import random
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from unittest import mock

from livepedal.model import readings, schedule
from livepedal.model.readings import FootRules, Reading
from livepedal.model.schedule import Changes
from tests.benchmarks.exactness import NOTIONS, disagreement
from tests.judge import passages
from tests.model import playing


@contextmanager
def a_horizon() -> Iterator[None]:
    honest = FootRules.cut

    def cut(self: FootRules, reading: Reading, moment: int, first_pedal: int) -> Reading:
        letters, owed = honest(self, reading, moment, first_pedal)
        return letters, tuple(change for change in owed if change[0] > moment - 3 * self.cycle)

    with mock.patch.object(FootRules, "cut", cut):
        yield


@contextmanager
def earliest_fit() -> Iterator[None]:
    def placeable(changes: Changes, cycle: int) -> bool:
        now = -(1 << 61)
        for latest, earliest, _ in sorted(changes, key=lambda change: change[1]):
            now = max(now, earliest)
            if now > latest:
                return False
            now += cycle
        return True

    with mock.patch.object(schedule, "placeable", placeable):
        yield


@contextmanager
def a_forgotten_tail() -> Iterator[None]:
    honest = FootRules.cut_at

    def cut_at(self: FootRules, reading: Reading, limit: int, first_pedal: int) -> Reading | None:
        kept = self.cycle, self.margin
        self.cycle, self.margin = 0, self.latest_lead
        try:
            return honest(self, reading, limit, first_pedal)
        finally:
            self.cycle, self.margin = kept

    with mock.patch.object(FootRules, "cut_at", cut_at):
        yield


def noticed_after(most: int, seed: int) -> int | None:
    """After how many cases the judge disagrees with the model as it stands; None if it does not."""
    rng = random.Random(seed)
    count = 0
    for number in itertools.count():
        passage = next(itertools.islice(passages.passages(1, seed * 7919 + number), 1))
        passage = passages.draw("busy", seed * 7919 + number, 500_000) if number % 2 else passage
        figures = passages.PLAYERS["working"] if number % 2 else passages.random_figures(rng, plain=True)
        first = playing.first_unplayable(passage, figures)
        for notion in NOTIONS:
            count += 1
            if disagreement(passage, figures, notion, first[notion]) is not None:
                return count
            if count >= most:
                return None
    return None


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--most", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    assert readings.tester is schedule.tester
    missed = 0
    faults: tuple[Callable[[], object], ...] = (a_horizon, earliest_fit, a_forgotten_tail)
    for fault in faults:
        with fault():  # type: ignore[attr-defined]
            after = noticed_after(options.most, options.seed)
        missed += after is None
        told = f"not noticed in {options.most} cases" if after is None else f"noticed after {after} cases"
        print(f"{fault.__name__.replace('_', ' ')}: {told}", flush=True)
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
