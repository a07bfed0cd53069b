"""What keys do: a small state machine between the keyboard and whoever is shown.

A key either changes what is on the screen, which is settled here, or is a wish that somebody else has to
grant: whatever changes a verdict is a command of the session and goes through its journal. The terminal
sends arrows and the like as sequences that begin with ESC (ECMA-48; the cursor keys' are xterm's);
`keys_in` takes what was read apart.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from livepedal.errors import LivepedalError
from livepedal.harp import Key, Setting
from livepedal.sources.text import clean
from livepedal.views.dashboard.history import Chapter, kept

LONGEST_TYPED = 60
_PAGE = 10


class Act(StrEnum):
    """What somebody else has to do."""

    PAUSE = "pause"
    KEEP = "keep"
    AFRESH = "afresh"
    PEDALS = "pedals"
    STAY = "stay"
    AGAIN = "again"
    PLAYER = "player"
    TAP = "tap"
    QUIT = "quit"


class Panel(StrEnum):
    """What is on the screen."""

    NOW = "now"
    PASSAGES = "passages"
    PASSAGE = "passage"
    INPUT = "input"
    KEYS = "keys"
    PEDALS = "pedals"  # as NOW, with a line to type a setting in


@dataclass(frozen=True, slots=True)
class Wish:
    """An act, and what it is done with.

    Attributes:
        text: of `Act.PEDALS` the setting, of `Act.STAY` the key ("": none), of `Act.AGAIN` the number of a passage
            ("": the last one).
    """

    act: Act
    text: str = ""


@dataclass(frozen=True, slots=True)
class Desk:
    """What is looked at.

    Attributes:
        chosen: the number of a passage.
        top: its finding that is at the top of the screen, 0 for its head.
        back: where Esc leads from it.
        typed: what stands in the line so far.
        complaint: why it was not taken.
        dismissed: the number of the last passage whose advice is not wanted any more.
    """

    page: Panel = Panel.NOW
    chosen: int = 0
    top: int = 0
    back: Panel = Panel.PASSAGES
    typed: str = ""
    complaint: str = ""
    dismissed: int = 0

    def at_work(self) -> Desk:
        """Back to what is being played."""
        return Desk(dismissed=self.dismissed)


NO_OUTPUT = "no output to play a passage on: start with --output PORT (livepedal ports lists the outputs)"
# Keys with their acts, and the words for them, in the order of the line of help.
_KEYS = {
    " ": (Act.PAUSE, "space pause"),
    "k": (Act.KEEP, "k keep this passage"),
    "s": (Act.PEDALS, "s set the pedals"),
    "a": (Act.AGAIN, "a hear it again"),
    "p": (Act.PLAYER, "p next player"),
    "t": (Act.TAP, "t tap the tempo"),
    "r": (Act.AFRESH, "r start again"),
    "q": (Act.QUIT, "q quit"),
}
_ELSEWHERE = {
    "a": NO_OUTPUT,
    "k": "keeping works only in livepedal listen; this is already a file",
    "t": "tapping works only in livepedal listen; the file has its own tempo",
}
_PAGES = {"i": Panel.INPUT, "?": Panel.KEYS}
_SEQUENCES = {
    "\x1b[A": "up",
    "\x1bOA": "up",
    "\x1b[B": "down",
    "\x1bOB": "down",
    "\x1b[5~": "page up",
    "\x1b[6~": "page down",
    "\x1b[H": "home",
    "\x1b[F": "end",
    # Windows: two characters for each of them (msvcrt.getwch).
    "\xe0H": "up",
    "\xe0P": "down",
    "\xe0I": "page up",
    "\xe0Q": "page down",
    "\xe0G": "home",
    "\xe0O": "end",
}
_STEPS = {"up": -1, "down": 1, "page up": -_PAGE, "page down": _PAGE, "home": -100_000, "end": 100_000}
_ONE_KEY = re.compile("\x1b\\[[0-9;]*[A-Za-z~]|\x1bO[A-Z]|\xe0.|.", re.DOTALL)


def keys_in(read: str) -> Iterator[str]:
    """The keys in what a terminal sent: characters, or names such as "up"; "" for one that means nothing."""
    for found in _ONE_KEY.findall(read):
        yield _SEQUENCES.get(found, found if len(found) == 1 else "")


def help_line(desk: Desk, acts: Sequence[Act], room: int) -> str:
    """The keys that do something now; acts: those that are granted; room: columns that there are."""
    match desk.page:
        case Panel.NOW:
            texts = [text for act, text in _KEYS.values() if act in acts and act is not Act.QUIT]
            always = ["h passages", "? all keys", "q quit"]
            while texts and len(" · ".join(texts + always)) > room:
                texts.pop()
            return " · ".join(texts + always)
        case Panel.PASSAGES:
            return "↑ ↓ choose · Return opens · Esc back · q quit"
        case Panel.PASSAGE:
            return f"↑ ↓ scroll · Esc {'to the list' if desk.back is Panel.PASSAGES else 'back'} · q quit"
        case Panel.INPUT | Panel.KEYS:
            return "Esc back · q quit"
        case Panel.PEDALS:
            return ""


def all_keys(acts: Sequence[Act], advice: bool, beside: bool) -> list[tuple[str, str]]:
    """Each key that does something, and what.

    acts: those that are granted; advice: whether there is any; beside: whether some is on the screen, to be closed.
    """
    *granted, quits = [text for act, text in _KEYS.values() if act in (*acts, Act.QUIT)]
    more = (
        "h the passages so far: verdicts, reasons, remedies",
        "i the input: what is heard, and what is not judged",
        *(["Return the last advice in full"] if advice else ()),
        "Esc back; closes the last advice" if beside else "Esc back",
        "? these keys",
    )
    return [(key, what) for key, _, what in (text.partition(" ") for text in (*granted, *more, quits))]


def press(desk: Desk, key: str, chapters: Sequence[Chapter], acts: Sequence[Act]) -> tuple[Desk, Wish | None]:
    """The desk after a key, and what it asks of others."""
    if desk.page is Panel.PEDALS:
        return _typed(desk, key)
    if key in ("q", "Q", "\x03"):
        return desk, Wish(Act.QUIT)
    if key in ("\x1b", "\x7f", "\b"):
        if desk.page is Panel.NOW:
            last = kept(chapters, desk.dismissed)
            return (desk if last is None else replace(desk, dismissed=last.number)), None
        back = desk.back if desk.page is Panel.PASSAGE else Panel.NOW
        return replace(desk, page=back, top=0), None
    if key in _STEPS:
        return _moved(desk, _STEPS[key], chapters), None
    if key in ("\r", "\n") and desk.page is Panel.PASSAGES and chapters:
        return replace(desk, page=Panel.PASSAGE, top=0, back=Panel.PASSAGES), None
    if key in ("\r", "\n") and desk.page is Panel.NOW and (last := kept(chapters)):
        return Desk(Panel.PASSAGE, chosen=last.number, back=Panel.NOW), None  # and it is wanted again
    key = key.lower()
    if key == "h":
        if desk.page in (Panel.PASSAGES, Panel.PASSAGE):
            return desk.at_work(), None
        number = chapters[-1].number if chapters else 0
        return replace(desk.at_work(), page=Panel.PASSAGES, chosen=number), None
    if key in _PAGES:
        page = Panel.NOW if desk.page is _PAGES[key] else _PAGES[key]
        return replace(desk.at_work(), page=page), None
    act = _act_of(key, acts)
    if act is None:
        return desk, None
    if act is Act.PEDALS:
        return replace(desk.at_work(), page=Panel.PEDALS), None
    if act is Act.AGAIN and desk.page in (Panel.PASSAGES, Panel.PASSAGE):
        return desk, Wish(act, str(desk.chosen))
    return desk, Wish(act)


def _act_of(key: str, acts: Sequence[Act]) -> Act | None:
    """What a key asks for, where that is granted."""
    act = _KEYS.get(key.lower(), (None,))[0]
    return act if act in acts else None


def unheard(desk: Desk, key: str, acts: Sequence[Act]) -> str:
    """Why a key does nothing here; "" for one that does something, and for one that means nothing anywhere."""
    if desk.page is Panel.PEDALS or len(key) != 1 or not key.isprintable() or key in ("q", "Q"):
        return ""
    if key.lower() in _KEYS:
        return "" if _act_of(key, acts) else _ELSEWHERE.get(key.lower(), "")
    if key.lower() in ("h", *_PAGES):
        return ""
    return f"{key} does nothing; ? shows the keys"


def typed_help(acts: Sequence[Act]) -> str:
    """What may be typed before Return where there is no screen."""
    pedals = "s E♭ major (or a whole setting) set the pedals"
    granted = ((act, words) for act, words in _KEYS.values() if act in (*acts, Act.QUIT))
    return ", ".join(pedals if act is Act.PEDALS else words for act, words in granted)


def wishes_in(typed: str, acts: Sequence[Act]) -> tuple[list[Wish], str]:
    """What a line that was typed before Return asks for, and why not all of it.

    Each character is a key, but what follows `s` is a setting; where that is missing, the wish has no text. A line with
    anything in it that is no key does nothing, for then none of the others was meant as a key.
    """
    wishes: list[Wish] = []
    if Act.PEDALS in acts and typed.strip().casefold().startswith("stay"):
        typed = f"s {typed}"
    for at, key in enumerate(typed):
        act = _act_of(key, acts)
        if act is Act.PEDALS:
            if typed[at + 1 :].strip():
                wish, why = set_to(typed[at + 1 :])
                return (wishes, why) if wish is None else ([*wishes, wish], "")
            return [*wishes, Wish(act)], ""
        if act is None:
            return [], f"{clean(typed)} does nothing; the keys are: {typed_help(acts)}"
        wishes.append(Wish(act))
    return wishes, ""


def set_to(typed: str) -> tuple[Wish | None, str]:
    """The wish for a setting or a key that was typed, or for a key to stay in; or why that is none."""
    first, _, key = typed.strip().partition(" ")
    try:
        if first.casefold() == "stay":
            return Wish(Act.STAY, Key.parse(key).name if key.strip() else ""), ""
        return Wish(Act.PEDALS, str(Setting.parse(typed))), ""
    except LivepedalError as error:
        return None, str(error)


def _moved(desk: Desk, step: int, chapters: Sequence[Chapter]) -> Desk:
    if desk.page not in (Panel.PASSAGES, Panel.PASSAGE) or not chapters:
        return desk
    numbers = [chapter.number for chapter in chapters]
    at = numbers.index(desk.chosen) if desk.chosen in numbers else len(numbers) - 1
    if desk.page is Panel.PASSAGE:
        return replace(desk, top=max(min(desk.top + step, len(chapters[at].groups)), 0))
    return replace(desk, chosen=numbers[max(min(at + step, len(numbers) - 1), 0)])


def _typed(desk: Desk, key: str) -> tuple[Desk, Wish | None]:
    if key in ("\x1b", "\x03"):
        return desk.at_work(), None
    if key in ("\r", "\n"):
        if not desk.typed.strip():
            return desk.at_work(), None
        wish, why = set_to(desk.typed)
        return (desk.at_work(), wish) if wish else (replace(desk, complaint=why), None)
    if key in ("\x7f", "\b"):
        return replace(desk, typed=desk.typed[:-1], complaint=""), None
    if len(key) == 1 and key.isprintable() and len(desk.typed) < LONGEST_TYPED:
        return replace(desk, typed=desk.typed + key, complaint=""), None
    return desk, None
