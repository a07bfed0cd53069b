"""How many columns a text takes on a terminal, and cutting to them.

Names that come from files may hold Chinese, Japanese and Korean characters, which take two columns each.
"""

from __future__ import annotations

from functools import lru_cache


@lru_cache(maxsize=4096)
def cells(text: str) -> int:
    """How many columns a text takes."""
    if text.isascii():
        return len(text)
    from rich.cells import cell_len

    return cell_len(text)


def padded(text: str, width: int) -> str:
    """The text padded with blanks to this many columns."""
    return text + " " * (width - cells(text))


def cut(text: str, width: int, dots: str) -> str:
    """The text with dots instead of its end if it has more than this many columns; "" where only dots would fit."""
    if cells(text) <= width:
        return text
    return _first(text, width - len(dots)) + dots if width > len(dots) else ""


def cut_in_the_middle(text: str, width: int, dots: str) -> str:
    """The text with dots instead of its middle if it has more than this many columns."""
    if cells(text) <= width:
        return text
    room = width - len(dots)
    left = _first(text, room // 2)
    return left + dots + _first(text[::-1], room - cells(left))[::-1]


def _first(text: str, width: int) -> str:
    """The first columns of a longer text, with a blank for half of a wide character."""
    if text.isascii():
        return text[:width]
    from rich.cells import set_cell_size

    return set_cell_size(text, width)


def folded(text: str, width: int, first: int, hang: int) -> list[str]:
    """The text in rows, broken at blanks.

    Args:
        text: any text.
        width: columns in all.
        first: the column where the first row begins.
        hang: the column where the others begin, with so many blanks before them.
    """
    rows = []
    room, indent = width - first, ""
    while cells(text) > room:
        most = room
        while cells(text[:most]) > room:
            most -= 1
        at = text.rfind(" ", 0, most + 1)
        if at <= 0:  # one long word, such as a path
            at = max(most, 1)
        rows.append(indent + text[:at].rstrip())
        text, room, indent = text[at:].lstrip(), width - hang, " " * hang
    return [*rows, indent + text]
