"""What the name of a track says: a harp plays it, it is muted, or which articulation or staff of a harp it is.

Common practice, no source: scores and sequencers write the instrument's English, Italian, German, French,
Slavic, Nordic, Finnish or Hungarian name, its plural, or the abbreviation "Hp.", "Hrp", "Hfe" or "Arp.", often with
a number or a remark ("Harp 1", "Arpa II", "Hp. 1", "Harp (Legato)", "harp_gliss"). It must stand as a word of its
own: a harpsichord is none, nor is F sharp.

A MIDI file does not say how its names are encoded. What is neither UTF-8 nor UTF-16 is read as latin-1, unless
the bytes hold the harp's name in another script as one of its encodings writes it.
"""

from __future__ import annotations

import re
from functools import cache

from livepedal.sources.text import clean, decode

_LETTER = r"[^\W\d_]"  # digits and underscores end a word here: "Harp1", "harp_gliss"
_HARP = re.compile(
    rf"(?<!{_LETTER})(?:harps?|ar[pf]as?|arpe|harfen?|harf[ay]|harpes?|harpa|harppu|hárfa|hfe|hrp|арф[аы]|άρπα)(?!{_LETTER})"
    # The abbreviation only with its full stop, a number, or by itself: HP alone may stand for anything else.
    rf"|(?<!{_LETTER})arp\.|(?<!{_LETTER})hps?(?:\.|\s*\d|\s+[iv]+(?!{_LETTER})|\s*$)"
    # These scripts do not part words.
    r"|ハープ|ﾊｰﾌﾟ|竖琴|豎琴|하프",
    re.IGNORECASE,
)
# Instruments of other families that are called harps.
_OTHER = re.compile(r"(?<!\w)(?:jew'?s|jew’s|jaw|mouth|blues|glass)[\s_-]+harps?(?!\w)", re.IGNORECASE)
_CAMEL = re.compile(r"(?<=[a-zß-ÿ])(?=[A-Z])")

# How a track is marked as not to be heard; "off" says so in brackets alone.
_MUTED = re.compile(
    rf"(?<!{_LETTER})(?:muted?|stumm|muet(?:te)?|muto|silenced|unused|disabled)(?!{_LETTER})|[(\[]\s*off\s*[)\]]",
    re.IGNORECASE,
)

# Ways of playing and hands that sample libraries and keyboard players give tracks of their own.
_ARTICULATION = re.compile(
    rf"(?<!{_LETTER})(?:legato|leg|staccato|stacc?|sustain(?:s|ed)?|sus|longs?|shorts?|normale?|ord(?:inario)?"
    r"|harmonics?|harms?|flageoletts?|gliss(?:ando|andi)?|pizz(?:icato)?|secc?o?|[ée]touff[ée]e?s?|muffled"
    r"|damp(?:en)?ed|pdlt|pr[èe]s de la table|bisb(?:igliando)?|nails?|plucks?|plucked|ks|key ?switch(?:es)?"
    rf"|layer|articulations?|l\.? ?h\.?|r\.? ?h\.?|(?:left|right)(?: hand)?)(?!{_LETTER})",
    re.IGNORECASE,
)

# The staves of one harp, as notation programs that export one track for each name them (common practice, no
# source). A number counts only where the name says staff, so that "Harp 1" and "Harp II" stay harps; and all of these
# only at the end, where something stands behind the harp's name.
_STAFF = re.compile(
    rf"(?<!{_LETTER})(?:(?:staff|stave|st|system|notenzeile)[\s.]*(?:\d|i{{1,3}}|[ab])"
    r"|(?:upper|lower|top|bottom)(?: (?:staff|stave|part|hand))?|treble|bass|disc?ant|descant|(?:up|down))"
    r"(?:[\s.]*(?:clef|staff|stave))?[\s)\]]*$",
    re.IGNORECASE,
)

# A harp that is counted before its name has its staves counted behind it: "1ère Harpe 2" is a staff of the first.
_COUNTED = re.compile(
    r"^(\d+(?: ?(?:st|nd|rd|th|[eè]re|er|[eè]me|e|[ºª°])|\.)?\s+[^\W\d]+)[\s.]+(?:\d|i{1,3})$"
)

# Hands and staves where nothing else stands in the name.
_HAND = re.compile(
    rf"(?<!{_LETTER})(?:[lr]\.? ?h\.?|left|right|upper|lower|up|down|treble|bass|top|bottom|staff|stave|system|hands?"
    r"|links|rechts|linke|rechte|gauche|droite|m\.? ?[gds]\.?|sinistra|destra|oben|unten|discant|diskant)"
    rf"(?!{_LETTER})",
    re.IGNORECASE,
)
_SEPARATED = re.compile(r"[/+&,]|(?<!\w)(?:and|und|et|e|y)(?!\w)", re.IGNORECASE)

_SCRIPTS = {
    ("арфа", "Арфа", "АРФА"): ("cp1251", "koi8_r", "cp866", "iso8859_5", "mac_cyrillic"),
    ("ハープ", "ﾊｰﾌﾟ"): ("cp932", "euc_jp"),
    ("竖琴",): ("gb18030",),
    ("豎琴",): ("big5",),
    ("하프",): ("cp949",),
    ("άρπα", "Άρπα", "ΑΡΠΑ"): ("cp1253", "iso8859_7"),
}


def says_harp(name: str) -> bool:
    """True when the name calls the track a harp's."""
    name = _CAMEL.sub(" ", name)  # "ConcertHarp"
    return _HARP.search(_OTHER.sub(" ", name)) is not None


def says_muted(name: str) -> bool:
    """True when the name says that the track is not to be heard."""
    return _MUTED.search(name.replace("_", " ")) is not None


def says_hand(name: str) -> bool:
    """True when the name is that of a hand or a staff."""
    return _HAND.search(_CAMEL.sub(" ", name).replace("_", " ")) is not None


def shares_its_name(name: str) -> bool:
    """True when the name calls the track a harp's and another instrument's: "Harp/str", "oboe2/harp"."""
    pieces = [piece for piece in _SEPARATED.split(_CAMEL.sub(" ", name).replace("_", " ")) if piece.strip()]
    harps = [piece for piece in pieces if says_harp(piece)]
    others = (piece for piece in pieces if not says_harp(piece) and family(piece)[0])
    return bool(harps) and any(re.search(_LETTER, family(other)[0]) for other in others)


def family(name: str) -> tuple[str, bool]:
    """The name without articulation, hand and staff, in lower case, and whether it had any: ("harp 1", True)."""
    plain = _CAMEL.sub(" ", name).replace("_", " ").casefold()
    rest = _STAFF.sub(" ", _ARTICULATION.sub(" ", plain))
    rest = _COUNTED.sub(r"\1", " ".join(rest.split()))
    plain = " ".join(plain.split())
    return " ".join(re.findall(r"[^\W_]+", rest)), rest != plain


def decode_name(data: bytes) -> str:
    """The bytes of a name as clean text, in the encoding that writes the harp's name so, where there is one."""
    if not data.isascii() and not _is_utf_8(data):
        for encoded, encoding in _encoded():
            if encoded in data:
                try:
                    return clean(data.decode(encoding))
                except UnicodeDecodeError:
                    continue
    return decode(data)


def _is_utf_8(data: bytes) -> bool:
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return False
    return True


@cache
def _encoded() -> tuple[tuple[bytes, str], ...]:
    found = []
    for words, encodings in _SCRIPTS.items():
        for encoding in encodings:
            for word in words:
                try:
                    found.append((word.encode(encoding), encoding))
                except UnicodeEncodeError:
                    continue
    return tuple(found)
