"""Which panel gets how many rows in a window of some size.

What matters most comes first: the word, what went wrong, and the pedals are there from 60 columns and 20 rows on;
then what could be struck next, then the last few seconds. 80x24 holds all of it. Of what is to spare the large word
gets half, since it is read from far away; the rest goes to more findings, the pedal diagram and a river that is deeper.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from livepedal.views.dashboard import feet, river, strip
from livepedal.views.dashboard.large import Size, largest
from livepedal.views.signs import Signs

COLUMNS, ROWS = 60, 20  # the least
MARGIN = 2  # columns beside the large word
_ABOUT = 26  # columns for what is said beside it
_EDGES = 2  # rows for the title and the keys
_WRONG = 4  # rows for what went wrong, its heading among them, at the least
_ENDED = 9  # the same when the passage is over
_KEPT = 2  # for the advice on an earlier passage, its heading among them
_FEWEST_LANES, _LANES, _MOST_LANES = 2, 3, 12  # rows of notes in the river
_ROOM_FOR_DIAGRAM = 6  # rows to spare from which the pedal diagram is drawn


@dataclass(frozen=True, slots=True)
class Layout:
    """How many rows each panel has, and what is drawn.

    Attributes:
        size: of the large word.
        beside: whether what is said about the word stands beside it, not below.
        word: rows for both.
        wrong: rows for findings, their heading included.
        kept: rows for the advice on an earlier passage.
        strip: whether it is shown what could be struck next.
        diagram: whether the pedal diagram is drawn.
        lanes: rows of notes in the river, 0 for no river.
    """

    size: Size
    beside: bool
    word: int
    wrong: int = 0
    kept: int = 0
    strip: bool = False
    diagram: bool = False
    lanes: int = 0


@lru_cache(maxsize=64)
def layout(signs: Signs, width: int, height: int, ended: bool = False, kept: bool = False) -> Layout:
    """The layout of a window of this size.

    Where the passage that is shown has ended, there is more to say of it as a whole than of its last seconds; where
    advice on an earlier one is kept, that stands beside it. The large word keeps its size through that.
    """
    made = layout(signs, width, height) if ended or kept else small(signs, width)
    wrong = (_ENDED if ended else _WRONG) + (
        _KEPT - 1
    ) * kept  # a row less of findings beside the kept advice
    spare = height - _EDGES - made.word - wrong - feet.ROWS
    with_strip = spare > strip.ROWS and width >= strip.COLUMNS
    spare -= (1 + strip.ROWS) * with_strip
    lanes = min(spare - river.FIXED_ROWS, _LANES)
    lanes = lanes if lanes >= _FEWEST_LANES else 0
    spare -= (lanes + river.FIXED_ROWS) * (lanes > 0)
    diagram = lanes == _LANES and spare >= _ROOM_FOR_DIAGRAM
    spare -= feet.DIAGRAM_ROWS * diagram
    if lanes == _LANES and not (ended or kept):
        least, made = made.word, _word(signs, width, made.word + spare // 2)
        spare -= made.word - least
    more = min(spare // 2, _MOST_LANES - lanes) if lanes == _LANES else 0
    wrong += spare - more
    for_kept = _KEPT if kept and wrong >= _WRONG + _KEPT - 1 else 0
    return Layout(
        made.size, made.beside, made.word, wrong - for_kept, for_kept, with_strip, diagram, lanes + more
    )


def small(signs: Signs, width: int) -> Layout:
    """The word alone, as small as it is at the least."""
    return _word(signs, width, 0)


def _word(signs: Signs, width: int, rows: int) -> Layout:
    """The word in so many rows or fewer."""
    room = width - 2 * MARGIN
    for for_word in (rows, rows - 1):
        size = largest(signs, room, for_word)
        beside = room - size.columns - MARGIN >= _ABOUT
        made = Layout(size, beside, size.rows(signs) + (not beside))
        if made.word <= rows:
            break
    return made
