"""Small MusicXML scores, written as text so that each test sees what it asks for."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence

HEAD = '<?xml version="1.0" encoding="UTF-8"?>\n'
CONTAINER = '<container><rootfiles><rootfile full-path="{path}"/></rootfiles></container>'


def note(
    name: str,
    quarters: float = 1,
    *,
    inside: str = "",
    notations: str = "",
    chord: bool = False,
    grace: bool = False,
    voice: int = 1,
    staff: int = 1,
    ident: str = "",
) -> str:
    """A note such as "C4", "Bb3", "F##5"; "rest". Divisions are 12 a quarter. inside: elements such as ties."""
    before = "<grace/>" if grace else ""
    before += "<chord/>" if chord else ""
    if name == "rest":
        pitch = "<rest/>"
    else:
        accidental = name[1:-1]
        alter = accidental.count("#") - accidental.count("b")
        altered = f"<alter>{alter}</alter>" if alter else ""
        pitch = f"<pitch><step>{name[0]}</step>{altered}<octave>{name[-1]}</octave></pitch>"
    duration = "" if grace else f"<duration>{round(12 * quarters)}</duration>"
    notations = f"<notations>{notations}</notations>" if notations else ""
    kind = {4: "whole", 2: "half", 1: "quarter", 0.5: "eighth", 0.25: "16th"}.get(quarters, "")
    kind = f"<type>{'eighth' if grace else kind}</type>" if kind or grace else ""
    attribute = f' id="{ident}"' if ident else ""
    return (
        f"<note{attribute}>{before}{pitch}{duration}{inside}<voice>{voice}</voice>{kind}<staff>{staff}</staff>"
        f"{notations}</note>"
    )


def notes(text: str, quarters: float = 1) -> str:
    """Several notes one after the other."""
    return "".join(note(name, quarters) for name in text.split())


def words(text: str, sound: str = "") -> str:
    """Words above the staff. sound: attributes of a sound element beside them."""
    beside = f"<sound {sound}/>" if sound else ""
    return f"<direction><direction-type><words>{text}</words></direction-type>{beside}</direction>"


def diagram(setting: str) -> str:
    """A harp-pedals diagram of a setting such as "D C# Bb E F G A"."""
    tunings = "".join(
        f"<pedal-tuning><pedal-step>{word[0]}</pedal-step>"
        f"<pedal-alter>{word.count('#') - word.count('b')}</pedal-alter></pedal-tuning>"
        for word in setting.split()
    )
    return f"<direction><direction-type><harp-pedals>{tunings}</harp-pedals></direction-type></direction>"


def backup(quarters: float) -> str:
    return f"<backup><duration>{round(12 * quarters)}</duration></backup>"


def attributes(beats: int = 4, unit: int = 4, fifths: int = 0, staves: int = 1, more: str = "") -> str:
    return (
        f"<attributes><divisions>12</divisions><key><fifths>{fifths}</fifths></key>"
        f"<time><beats>{beats}</beats><beat-type>{unit}</beat-type></time><staves>{staves}</staves>{more}</attributes>"
    )


def score(*measures: str, name: str = "Harp", more: str = "", numbers: Sequence[str] = ()) -> bytes:
    """A score of one part; attributes for 4/4 stand at its start unless the first measure brings its own.

    numbers: of the measures, with ! behind an implicit one (default: 1, 2, ...).
    """
    shown = numbers or [str(number) for number in range(1, len(measures) + 1)]
    body = "".join(
        f'<measure number="{number.rstrip("!")}"{" implicit=" + chr(34) + "yes" + chr(34) if "!" in number else ""}>'
        f"{attributes() if index == 0 and '<divisions>' not in content else ''}{content}</measure>\n"
        for index, (number, content) in enumerate(zip(shown, measures, strict=True))
    )
    return whole(
        f'<part id="P1">{body}</part>',
        f'<score-part id="P1"><part-name>{name}</part-name>{more}</score-part>',
    )


def whole(parts: str, listed: str) -> bytes:
    """A score-partwise document."""
    return f'{HEAD}<score-partwise version="4.0"><part-list>{listed}</part-list>\n{parts}</score-partwise>\n'.encode()


def packed(document: bytes, path: str = "score.musicxml", container: str | None = None) -> bytes:
    """The document as an .mxl archive."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(
            "META-INF/container.xml", CONTAINER.format(path=path) if container is None else container
        )
        archive.writestr(path, document)
    return out.getvalue()
