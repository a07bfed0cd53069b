"""Where tests find things: the checkout, its recordings, and real music beside it, which may be missing."""

from __future__ import annotations

from pathlib import Path

ROOT = Path(__file__).parents[1]
RECORDINGS = ROOT / "recordings"
MUSIC = ROOT.parent / "shared" / "music"
EVERY_RECORDING = sorted(RECORDINGS.glob("*.mid"))
