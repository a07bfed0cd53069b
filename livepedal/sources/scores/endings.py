"""How a harp's note ends, where words say it: étouffé, laissez vibrer, and the like.

A harp's strings ring on unless they are damped. `étouffé` (damped, muffled) asks for the string to be damped when the
note ends, so that it is silent and its pedal free from then on. `laissez vibrer` (l.v.) asks for it to sound on beyond
its value. Terms of the trade in five languages; no source but dictionaries.

A word counts for what is struck together with it, in both hands; with "sempre", "simile" or "sons" for all until a word
says otherwise ("ordinaire", or the contrary). A damp sign (MusicXML: damp, damp-all) ends what sounds where it stands.
"""

from __future__ import annotations

import re

from livepedal.sources.scores.written import NO_SIGN, Sign

_DAMPED = re.compile(
    r"\b(?:[ée]touff|smorzat|soffoc|apagad|abd[äa]mpf|ged[äa]mpft|muffle|damp(?:ed)?\b)|^\s*[ée]t\.",
    re.IGNORECASE,
)
_RINGS = re.compile(
    r"\bl\. ?v\b|\blaisse[rz] vibrer|\blet ring|\blet vibrate|\blascia(?:r|re)? vibrar"
    r"|\bdejar vibrar|\bklingen lassen|\bnicht d[äa]mpfen|\bdon.t damp",
    re.IGNORECASE,
)
_LASTING = re.compile(r"\b(?:sempre|sim(?:\.|ile)|toujours|immer|always|siempre|sons)\b", re.IGNORECASE)
_ORDINARY = re.compile(r"\b(?:ord(?:\.|inaire|inario)?|normal|gew[öo]hnlich)(?:\W|$)", re.IGNORECASE)


def ending_of(text: str) -> tuple[Sign, bool] | None:
    """What words say of how notes end, and whether for all that follow; None where they say nothing of it.

    NO_SIGN is "as usual".
    """
    lasting = _LASTING.search(text) is not None
    if _RINGS.search(text):
        return Sign.RINGS, lasting
    if _DAMPED.search(text):
        return Sign.DAMPED, lasting
    return (NO_SIGN, True) if _ORDINARY.search(text) else None
