"""livepedal: whether a concert harp could play it, while it is being played and afterwards.

In Python: `livepedal.check_file(path)` returns a Report; what it cannot judge raises
`livepedal.LivepedalError`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from livepedal.errors import LivepedalError

if TYPE_CHECKING:
    from livepedal.advice.check import check_file
    from livepedal.advice.report import Report

__version__ = "0.1.0"
__all__ = ["LivepedalError", "Report", "__version__", "check_file"]


def __getattr__(name: str) -> Any:
    # Loaded when asked for, so that `livepedal --version` and the command line's help start at once.
    if name == "check_file":
        from livepedal.advice.check import check_file

        return check_file
    if name == "Report":
        from livepedal.advice.report import Report

        return Report
    raise AttributeError(f"module 'livepedal' has no attribute {name!r}")
