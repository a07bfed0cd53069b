"""How near real music comes to the figures of the hands: `python -m tests.benchmarks.hands [--player working]`.

For each rule the strain (time needed through time there was; 1 is the figure itself) that half, 99 %, 99.9 % and all of the
attacks stay within, by group of music; a strain that the hands bring from an earlier attack is counted there; and for each harp part how many attacks would be beyond, were the figures of each
rule scaled so that 99.9 % of the attacks of all *other* harp parts are within (leave one out). Figures that a file plays out
are left out.
"""

from __future__ import annotations

import argparse

from livepedal.advice.judging.part import attacks_of
from livepedal.harp import Figures
from livepedal.model.hands import Hands
from tests.benchmarks.measuring import files, parts_of, percentile, table

RULES = ("hands", "line", "same string")
GROUPS = ("harp", "harp-more", "easy", "keyboard")
MARGIN = 1.05


def strains(path: object, number: int) -> list[tuple[float, float, float]]:
    """Of each attack of a file that stands in no figure."""
    figures = Figures.builtin()
    harp = figures.instrument("47")
    found = []
    for part in parts_of(path):  # type: ignore[arg-type]
        before = 0.0
        hands = Hands(figures.players, harp, figures)
        for attack in attacks_of(part.events, figures):
            pitches = tuple(pitch for pitch, _ in attack.notes if harp.spellings(pitch))
            hands.open(attack.us)
            for pitch in pitches:
                hands.strike(pitch, attack.us)
            hands.judge(pitches, attack.us)
            one, two, three = (part[number] for part in hands.parts)
            if not hands.here:
                found.append((one if one > before else 0.0, two, three))
            before = one if one <= MARGIN else 0.0
            hands.close()
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--player", default="working", choices=("relaxed", "working", "virtuoso"))
    number = ("relaxed", "working", "virtuoso").index(parser.parse_args().player)
    parts = {group: {path.stem: strains(path, number) for path in paths} for group, paths in files(GROUPS)}
    rows = []
    for group, some in parts.items():
        for rule, name in enumerate(RULES):
            values = sorted(one[rule] for part in some.values() for one in part)
            shares = [percentile(values, share) for share in (0.5, 0.99, 0.999, 1)]
            rows.append((f"{group}: {name}", str(len(values)), *(f"{value:.2f}" for value in shares)))
    print(table(("", "attacks", "50 %", "99 %", "99.9 %", "all"), rows))
    harps = {stem: part for group in ("harp", "harp-more") for stem, part in parts.get(group, {}).items()}
    rows = []
    for stem, part in harps.items():
        alarms = 0
        for rule in range(len(RULES)):
            others = sorted(one[rule] for other, some in harps.items() if other != stem for one in some)
            most = max(1.0, percentile(others, 0.999)) * MARGIN
            alarms += sum(one[rule] > most for one in part)
        rows.append((stem[:50], str(len(part)), str(alarms)))
    print(table(("left out", "attacks", "false alarms"), rows))


if __name__ == "__main__":
    main()
