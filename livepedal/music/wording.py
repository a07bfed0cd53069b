"""Numbers and places in words that remarks, advice and views share."""

from __future__ import annotations

from fractions import Fraction


def counted(number: int, thing: str) -> str:
    """A number with its thing, such as "1 attack" or "2 attacks"."""
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"


def beat(value: Fraction) -> str:
    """A beat to a hundredth, such as "1", "2.5" or "1.33".

    Rounded down, so that no beat is shown as the next.
    """
    hundredths = int(value * 100)
    whole, part = divmod(hundredths, 100)
    return f"{whole}" if not part else f"{whole}.{part:02d}".rstrip("0")


def bounded(search: str) -> str:
    """That fewer pedal changes than those told may do. search: what was looked for."""
    return f"The search for {search} was bounded: there may be one with fewer pedal changes"


def within(sentence: str) -> str:
    """A sentence as it stands within another one: with a small letter."""
    return sentence[:1].lower() + sentence[1:]
