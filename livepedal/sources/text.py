"""Text that comes from outside: names of tracks, markers and files, made fit to be shown.

A MIDI file says nothing about the encoding of its text, and a name may hold anything: escape sequences that
would clear a terminal, line breaks, marks that turn the writing direction round. Shown text is therefore
decoded by trying (UTF-8 is hardly ever valid by accident, so whatever fails it is latin-1), and every
character that is not visible is replaced by one that is: control characters by their pictures (Unicode block
2400), others by U+FFFD.
"""

from __future__ import annotations

import codecs
import os
import shlex
import unicodedata

LONGEST_NAME = 200  # characters; longer ones are cut and end in an ellipsis

_INVISIBLE = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})
_REPLACEMENT = "\N{REPLACEMENT CHARACTER}"


def clean(text: str, longest: int = LONGEST_NAME) -> str:
    """The text on one line, without characters that act instead of being seen, at most `longest` long."""
    text = text[: 4 * longest].strip("\0 \t\r\n\ufeff")
    if not text.isprintable():
        text = "".join(map(_visible, text)).strip()
    return text if len(text) <= longest else text[: longest - 1] + "…"


def counted(number: int, thing: str) -> str:
    """A number with its thing, such as "1 attack", "2 attacks", "2 remedies"."""
    things = f"{thing[:-1]}ies" if thing.endswith("dy") else f"{thing}s"
    return f"{number} {thing if number == 1 else things}"


def are(number: int, thing: str) -> str:
    """A number with its thing and verb: "1 attack is", "2 attacks are"."""
    return f"{counted(number, thing)} {'is' if number == 1 else 'are'}"


def seen(text: str) -> str:
    """The text with every character made visible that acts instead of being seen, and nothing else changed.

    It is applied last to whatever goes to a terminal or a pipe, since names from outside get into many sentences.
    """
    return text if text.isprintable() else "".join(map(_visible, text))


def shell_line(*words: str) -> str:
    """Words as they are typed in a shell of this system."""
    if os.name == "nt":
        return " ".join(f'"{word}"' if set(word) & set(" &()^,;=") else word for word in words)
    return shlex.join(words)


def decode(data: bytes) -> str:
    """Text bytes of a MIDI file as clean text: UTF-8 where that is valid, else latin-1; UTF-16 by its mark."""
    data = data[: 16 * LONGEST_NAME]
    if data[:2] in (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE):
        return clean(data.decode("utf-16", "replace"))
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        # A long name may have been cut inside its last character; that is still UTF-8.
        cut_short = error.reason == "unexpected end of data" and len(data) == 16 * LONGEST_NAME
        text = data.decode("utf-8", "ignore") if cut_short else data.decode("latin-1")
    return clean(text)


def _visible(character: str) -> str:
    code = ord(character)
    if code < 0x20:
        return chr(0x2400 + code)  # the control pictures stand in ASCII's order
    if code == 0x7F:
        return "\N{SYMBOL FOR DELETE}"
    if unicodedata.category(character) in _INVISIBLE:
        return _REPLACEMENT
    return " " if unicodedata.category(character) == "Zs" else character
