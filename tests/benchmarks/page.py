"""The page of a long part: `python -m tests.benchmarks.page`. How large it is, how long it takes to make, and how long
a browser takes to open it.

The part is the recordings one after the other, again and again, for as many minutes as are asked for (5), as one
harp: chords, runs, pedal changes and findings as they come. Opening is from the navigation to the load event, and to
the second frame after it, when everything has been drawn; "CPU" is what the page's main thread worked until then, which
other programs on the machine lengthen less. Beside it the same for a page that holds nothing. Any MIDI file can be given
instead. Reach: under 1 MB, and open in under a second.
"""

from __future__ import annotations

import argparse
import io
import os
import shutil
import statistics
import tempfile
import time
from itertools import cycle
from pathlib import Path

import mido

from livepedal import check_file
from livepedal.harp import Figures
from livepedal.views import page
from tests.benchmarks.measuring import ROOT, machine, say, table

NOTHING = b"<!DOCTYPE html><html lang=en><title>nothing</title><body><p>nothing</body></html>"


def long_part(minutes: float) -> bytes:
    """The recordings' notes, one after the other, in 4/4 at 120 quarters a minute."""
    track = mido.MidiTrack()
    track.append(mido.MetaMessage("track_name", name="Harp"))
    lasted, ticks = 0.0, 0
    paths = cycle(sorted((ROOT / "recordings").glob("*.mid")))
    while lasted < minutes * 60:
        for message in mido.MidiFile(next(paths)):
            lasted += message.time
            if message.type in ("note_on", "note_off") and message.note >= 24:
                wait = max(0, round(lasted * 1920) - ticks)
                track.append(message.copy(channel=0, time=wait))
                ticks += wait
        lasted += 1
    file = mido.MidiFile(ticks_per_beat=960)
    file.tracks.append(track)
    data = io.BytesIO()
    file.save(file=data)
    return data.getvalue()


def opening(data: bytes, runs: int, width: int) -> tuple[float, float, float] | None:
    """Median seconds to the load event, to the second frame after it, and of the main thread's CPU; None without a
    browser.
    """
    program = os.environ.get("LIVEPEDAL_CHROMIUM") or shutil.which("chromium")
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        return None
    if program is None:
        return None
    loads, frames, works = [], [], []
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        file = Path(folder) / "page.html"
        file.write_bytes(data)
        browser = play.chromium.launch(executable_path=program, args=["--no-sandbox"])
        for _ in range(runs + 1):
            shown = browser.new_page(viewport={"width": width, "height": 900})
            talk = shown.context.new_cdp_session(shown)
            talk.send("Performance.enable", {"timeDomain": "threadTicks"})
            shown.goto(file.as_uri())
            load, frame = shown.evaluate(
                """() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(() => done([
                    performance.getEntriesByType("navigation")[0].loadEventEnd, performance.now()]))))"""
            )
            loads.append(load / 1000)
            frames.append(frame / 1000)
            metrics = {one["name"]: one["value"] for one in talk.send("Performance.getMetrics")["metrics"]}
            works.append(metrics["TaskDuration"])
            shown.close()
        browser.close()
    # The first fills the caches.
    return statistics.median(loads[1:]), statistics.median(frames[1:]), statistics.median(works[1:])


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("files", nargs="*", type=Path)
    parser.add_argument("--minutes", type=float, default=5)
    parser.add_argument("--runs", type=int, default=5)
    options = parser.parse_args()
    say(machine())
    figures = Figures.builtin()
    sources: list[tuple[str, bytes]] = [(path.name, path.read_bytes()) for path in options.files]
    rows = []
    for name, data in sources or [(f"{options.minutes:g} minutes of recordings", long_part(options.minutes))]:
        begun = time.perf_counter()
        report = check_file(data, name=name, only=("pedals",), merge=True)
        judged = time.perf_counter()
        made = page.to_bytes(report.files[0], report.player, report.instrument, figures.ringing)
        done = time.perf_counter()
        part = report.files[0].parts[0]
        for width in (360, 1440):
            opened = opening(made, options.runs, width)
            rows.append(
                [
                    name,
                    str(part.notes),
                    f"{part.end / 60e6:.1f}",
                    str(len(part.findings)),
                    f"{len(made) / 1e3:.0f}",
                    f"{judged - begun:.1f}",
                    f"{(done - judged) * 1e3:.0f}",
                    str(width),
                    *(["-", "-", "-"] if opened is None else [f"{one * 1e3:.0f}" for one in opened]),
                ]
            )
    for width in (360, 1440):
        opened = opening(NOTHING, options.runs, width)
        shown = ["-", "-", "-"] if opened is None else [f"{one * 1e3:.0f}" for one in opened]
        rows.append(
            ["a page that holds nothing", "", "", "", f"{len(NOTHING) / 1e3:.1f}", "", "", str(width), *shown]
        )
    head = (
        "part",
        "notes",
        "min",
        "findings",
        "kB",
        "judge s",
        "make ms",
        "width",
        "load ms",
        "drawn ms",
        "CPU ms",
    )
    say(table(head, rows))


if __name__ == "__main__":
    main()
