"""The pedal diagram, read back stroke by stroke as a harpist reads it.

Source: W3C MusicXML 4.0, element harp-pedals: pedals in the order D C B | E F G A; a pedal above the line is
flat, on it natural, below it sharp.
"""

from itertools import product

import pytest

from livepedal.harp import Position, Setting
from livepedal.views.report.diagram import diagram
from livepedal.views.signs import ASCII, FULL, PLAIN, Signs


def read(rows: tuple[str, ...]) -> str:
    """What a reader sees who knows only where strokes are: letters with b, n, #; | between the feet."""
    letters, above, on, below = (row.ljust(40) for row in rows)
    found = []
    for column, letter in enumerate(letters):
        if letter in "┃|":
            found.append("|")
        elif letter != " ":
            here = {"b": above[column] in "│|", "#": below[column] in "│|"}
            here["n"] = not any(here.values()) and on[column] in "┼|"
            found.append(letter + "".join(sign for sign, seen in here.items() if seen))
    return " ".join(found).replace("| |", "|")


@pytest.mark.parametrize("signs", [FULL, PLAIN, ASCII])
def test_every_setting_can_be_read_off_its_diagram(signs: Signs) -> None:
    plain = {Position.FLAT: "b", Position.NATURAL: "n", Position.SHARP: "#"}
    for positions in product(Position, repeat=7):
        d, c, b, e, f, g, a = (plain[position] for position in positions)
        assert read(diagram(Setting(positions), signs)) == f"D{d} C{c} B{b} | E{e} F{f} G{g} A{a}"


def test_a_pedal_that_is_not_used_has_no_stroke() -> None:
    assert read(diagram(Setting.parse("D C . . F# G A"), FULL)) == "Dn Cn B | E F# Gn An"


def test_rows_stand_under_each_other() -> None:
    letters, _, line, _ = diagram(Setting.parse("C major"), FULL)
    assert line.count("┼") == 7
    assert letters.index("┃") == line.index("╂")
