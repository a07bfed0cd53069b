"""Hold the model against the independent judge: `python -m tests.benchmarks.exactness --cases 10000`.

A case is one passage, one player and one notion of when a string is free. The judge (tests/judge/cpsat.py)
solves it twice: up to the first attack that the model cannot play, which must be infeasible, and up to the
one before, which must be feasible (or, where the model plays it all, the whole passage). The last line says
how many cases disagree; the exit code is 1 where any does.
"""

from __future__ import annotations

import argparse
import random
import sys
import time

from tests.judge import cpsat, passages
from tests.model import playing

NOTIONS: tuple[cpsat.Notion, ...] = ("held", "sliding")


def disagreement(
    passage: cpsat.Passage, figures: cpsat.Figures, notion: cpsat.Notion, first: int | None
) -> str | None:
    """What the judge says against the model, or None. `first`: the first attack that the model cannot play."""
    if first is None:
        if not cpsat.feasible(passage, figures, notion, len(passage.attacks)):
            return f"the model plays all {len(passage.attacks)} attacks, the judge does not"
        return None
    if cpsat.feasible(passage, figures, notion, first + 1):
        return f"the judge plays attack {first}, the model does not"
    if first and not cpsat.feasible(passage, figures, notion, first):
        return f"the model plays up to attack {first}, the judge does not even do that"
    return None


def cases(count: int, seed: int, plain: bool) -> tuple[int, int, list[str]]:
    """(cases, attacks, disagreements) of `count` cases from this seed."""
    rng = random.Random(seed)
    done = attacks = 0
    wrong: list[str] = []
    for number, passage in enumerate(passages.passages((count + 1) // 2, seed)):
        figures = passages.random_figures(rng, plain)
        if not plain:
            figures = passages.sounding(rng, figures)
        first = playing.first_unplayable(passage, figures)
        for notion in NOTIONS:
            if done == count:
                break
            said = disagreement(passage, figures, notion, first[notion])
            done += 1
            attacks += len(passage.attacks)
            if said is not None:
                wrong.append(f"case {number} ({passage.kind}, {notion}, {figures}): {said}")
                print(wrong[-1], flush=True)
    return done, attacks, wrong


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--plain", action="store_true", help="only the three players' own figures")
    options = parser.parse_args()
    began = time.perf_counter()
    done, attacks, wrong = cases(options.cases, options.seed, options.plain)
    print(f"{attacks} attacks judged in {time.perf_counter() - began:.0f} s")
    print(f"{done} cases, {len(wrong)} disagree")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
