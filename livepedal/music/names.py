"""Does the name of a track say that a harp plays it?

Common practice, no source: scores and sequencers write the instrument's English, Italian, German or French
name, its plural, or the abbreviation "Hp.", often with a number or a remark ("Harp 1", "Arpa II", "Hp. 1",
"Harp (Legato)", "harp_gliss"). It must stand as a word of its own: a harpsichord is none, nor is F sharp.
"""

from __future__ import annotations

import re

_LETTER = r"[^\W\d_]"  # digits and underscores end a word here: "Harp1", "harp_gliss"
_HARP = re.compile(
    rf"(?<!{_LETTER})(?:harps?|arpa|arpe|harfen?|harpes?)(?!{_LETTER})"
    # The abbreviation only with its full stop, a number, or by itself: HP alone may stand for anything else.
    rf"|(?<!{_LETTER})hps?(?:\.|\s*\d|\s+[iv]+(?!{_LETTER})|\s*$)",
    re.IGNORECASE,
)
# Instruments of other families that are called harps.
_OTHER = re.compile(r"(?<!\w)(?:jew'?s|jew’s|jaw|mouth|blues|glass)[\s_-]+harps?(?!\w)", re.IGNORECASE)
_CAMEL = re.compile(r"(?<=[a-zß-ÿ])(?=[A-Z])")


def says_harp(name: str) -> bool:
    """True when the name calls the track a harp's."""
    name = _CAMEL.sub(" ", name)  # "ConcertHarp"
    return _HARP.search(_OTHER.sub(" ", name)) is not None
