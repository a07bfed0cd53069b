"""livepedal: can a concert harp play it? Judged while it is played, or from a file.

`check_file(path)` judges a file and returns a Report: for each part its verdict, its findings (with bar and beat) and
its pedal changes. A Monitor judges notes as they are played: feed it a NoteOn and a NoteOff for each, which carry their
own time. Whatever cannot be judged raises LivepedalError with one sentence.

    report = livepedal.check_file("cue.mid", player="virtuoso", spelling="3-7: F♭ major")
    for finding in report.files[0].parts[0].findings:
        print(finding.bar, finding.beat, finding.kind)
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from livepedal.errors import LivepedalError

if TYPE_CHECKING:
    from livepedal.advice.check import check_file
    from livepedal.advice.report import Report
    from livepedal.advice.spelling.given import AskedSpelling
    from livepedal.advice.spelling.requests import parse_request
    from livepedal.harp import Figures, Setting
    from livepedal.model.watching import Monitor
    from livepedal.music.events import NoteOff, NoteOn

__version__ = "0.1.0"
__all__ = [
    "AskedSpelling",
    "Figures",
    "LivepedalError",
    "Monitor",
    "NoteOff",
    "NoteOn",
    "Report",
    "Setting",
    "__version__",
    "check_file",
    "parse_request",
]

_WHERE = {
    "AskedSpelling": "livepedal.advice.spelling.given",
    "Figures": "livepedal.harp",
    "Monitor": "livepedal.model.watching",
    "NoteOff": "livepedal.music.events",
    "NoteOn": "livepedal.music.events",
    "Report": "livepedal.advice.report",
    "Setting": "livepedal.harp",
    "check_file": "livepedal.advice.check",
    "parse_request": "livepedal.advice.spelling.requests",
}


def __getattr__(name: str) -> Any:
    # Loaded when asked for, so that `livepedal --version` and the command line's help start at once.
    if name in _WHERE:
        from importlib import import_module

        return getattr(import_module(_WHERE[name]), name)
    raise AttributeError(f"module 'livepedal' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted(__all__)
