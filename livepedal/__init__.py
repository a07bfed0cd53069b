"""livepedal: can a concert harp play it? Judged while it is played, or from a file.

`check_file(path)` judges a file and returns a Report: for each part its verdict, its findings (with bar and beat) and
its pedal changes. A Monitor judges notes as they are played: feed it events that carry their own time. Whatever cannot
be judged raises LivepedalError with one sentence.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from livepedal.errors import LivepedalError

if TYPE_CHECKING:
    from livepedal.advice.check import check_file
    from livepedal.advice.report import Report
    from livepedal.model.monitor import Monitor

__version__ = "0.1.0"
__all__ = ["LivepedalError", "Monitor", "Report", "__version__", "check_file"]

_WHERE = {
    "check_file": "livepedal.advice.check",
    "Report": "livepedal.advice.report",
    "Monitor": "livepedal.model.monitor",
}


def __getattr__(name: str) -> Any:
    # Loaded when asked for, so that `livepedal --version` and the command line's help start at once.
    if name in _WHERE:
        from importlib import import_module

        return getattr(import_module(_WHERE[name]), name)
    raise AttributeError(f"module 'livepedal' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
