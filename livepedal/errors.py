"""The only exception that livepedal raises to its callers.

Whatever cannot be read, judged or understood becomes this exception. Its message is one sentence for the user: what is
wrong, and what to do about it.
"""

from collections.abc import Iterable


class LivepedalError(Exception):
    """One clear sentence: what is wrong, and what to do. Print it; a traceback would add nothing."""


def nearest(name: str, known: Iterable[str], otherwise: str = "") -> str:
    """The end of a sentence on a name that nobody knows: what may be meant, else `otherwise`."""
    from difflib import get_close_matches  # only where something is wrong

    near = get_close_matches(name, known, 1)
    return f"; did you mean {near[0]}?" if near else otherwise
