"""Plans of random passages against the judge's best ones: is any better in the order of what a harpist minds?

    .venv/bin/python -m tests.benchmarks.plans [CASES] [SEED]

Passages of up to 30 attacks that the player can play, perhaps with slides, as `tests/model/plan/test_plan.py` takes them.
Prints how many plans are the best, how many of the others say so (`bounded`), and how the rest differs.
"""

from __future__ import annotations

import random
import sys
from dataclasses import replace

from tests.judge import cpsat, passages
from tests.model import playing
from tests.model.plan.test_plan import cost, names_of, plan_start


def main() -> None:
    cases = int(sys.argv[1]) if len(sys.argv) > 1 else 500
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    rng = random.Random(seed)
    relaxed = passages.PLAYERS["relaxed"]
    done = best = told = 0
    met = [0] * 6
    for passage in passages.passages(100 * cases, seed):
        figures = passages.sounding(rng, passages.random_figures(rng))
        passage = replace(passage, attacks=passage.attacks[: rng.randint(8, 30)])
        if playing.first_unplayable(passage, figures)["sliding"] is not None:
            continue
        names = names_of(passage)
        plan = playing.plan(passage, figures, relaxed)
        found = cost(plan, names, None if passage.start is None else plan_start(passage.start))
        least = cpsat.best_plan(passage, figures, relaxed, names)
        met = [count + bool(one) for count, one in zip(met, least or (), strict=True)]
        if plan.unplayable == 0 and found == least:
            best += 1
        elif plan.bounded:
            told += 1
        else:
            print(
                f"not the best: {len(passage.attacks)} attacks, {plan.unplayable} {found}, least {least}",
                flush=True,
            )
        done += 1
        if done % 50 == 0 or done == cases:
            print(f"{done} plans: {best} the best, {told} others that say they may not be", flush=True)
        if done == cases:
            break
    print("of them with audible, crossed, tight, other names, two notches, changes:", *met)


if __name__ == "__main__":
    main()
