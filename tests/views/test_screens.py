"""The dashboard on a real pseudo-terminal, for each recording: what a terminal shows at given moments."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest

from livepedal.advice.judging.groups import groups_of
from livepedal.model.findings import Layer, worst_first
from livepedal.views import words
from livepedal.views.dashboard import terminal
from livepedal.views.dashboard.screen import WRONG, Scene, dashboard_lines
from livepedal.views.lines import Line, plain_text
from livepedal.views.signs import ASCII, FULL, Signs

from .making import scene
from .ptys import RECORDINGS, Pty, Watched

SIZES = ((80, 24), (120, 40), (60, 20))
# The same once the piece is over and the advice has come: the screen, and after some keys the history.
ADVISED = (
    ("03-paddle-wheel", "", 80, 24),
    ("03-paddle-wheel", "h", 80, 24),
    ("03-paddle-wheel", "h\r", 80, 24),
    ("11-weir", "", 80, 24),
    ("11-weir", "h\r", 120, 40),
    ("12-moored", "", 80, 24),
)
SCREENS = Path(__file__).parent / "screens"
# Screens that somebody has looked at: (recording, seconds, columns, rows). To see what a change does to them, and to
# keep the new ones once they are right, run with LIVEPEDAL_KEEP_SCREENS=1 and read the difference in git.
REVIEWED = (
    ("03-paddle-wheel", 4.3, 80, 24),
    ("03-paddle-wheel", 11.0, 80, 24),
    ("05-paddle-wheel-revised", 3.0, 120, 40),
    ("12-moored", 7.2, 80, 24),
    ("02-upstream", 4.4, 80, 24),
)


def recording(name: str) -> Path:
    return next(path for path in RECORDINGS if path.stem == name)


def colours(raw: bytes) -> set[int]:
    """Select Graphic Rendition codes (ECMA-48, 8.3.117); those from 30 to 49 are colours.

    What follows 38 and 48 is a colour and no code: 5 and its number in a palette, or 2 and its red, green and blue
    (ISO 8613-6, 13.1.8). Which of them rich writes hangs on the console that a style was first written to.
    """
    codes = set()
    for found in re.findall(rb"\x1b\[([\d;]*)m", raw):
        rest = iter(int(c or b"0") for c in found.split(b";"))
        for code in rest:
            codes.add(code)
            if code in (38, 48):
                for _ in range({5: 1, 2: 3}[next(rest)]):
                    next(rest)
    return codes


def test_a_colour_is_no_blinking() -> None:
    assert colours(b"\x1b[38;5;5mx\x1b[1;48;2;5;6;5my\x1b[m") == {38, 1, 48, 0}
    assert 5 in colours(b"\x1b[38;5;16;5mx")


@pytest.mark.parametrize("colour", [True, False], ids=["colour", "no-colour"])
@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
@pytest.mark.parametrize("path", RECORDINGS, ids=lambda path: path.stem)
def test_every_recording(path: Path, size: tuple[int, int], colour: bool) -> None:
    watched = Watched(path)
    with Pty(*size, colour) as pty:
        for seconds in (0.3 * watched.end, 0.7 * watched.end, watched.end + 2):
            # The frames before stand under this one; of each only what differs is written.
            watched.until(seconds - 0.15)
            watched.until(seconds, pty)
            made = watched.replay.scene()
            rows = pty.draw(made)
            wanted = [plain_text(one) for one in dashboard_lines(made, *size)]
            assert [row.rstrip() for row in rows] == wanted
            shown = made.snapshot
            if shown.passage is None:
                continue
            word = shown.passage.verdict.word
            said = "\n".join(rows)
            ways = ("{} so far", "passage over: {}")
            assert any(way.format(word.upper()) in said for way in ways)
            mine = [f for f in shown.findings if f.us >= shown.passage.start]
            assert ("nothing for the " in said) == (not mine)
            if mine:
                # The latest while it goes on, and of the whole the worst, with how many more there are.
                if shown.passage.open:
                    assert f"{mine[-1].us / 1e6:.2f} s" in said
                    continue
                worst, *others = groups_of(made.chapters[-1].findings, (shown.passage,))
                where = f"{worst.worst.us / 1e6:.2f} s" if worst.attacks == 1 else words.spread(worst, made.place)
                assert where in said
                assert not others or f"{words.counted(len(others), 'more finding')}: h" in said
            if size[0] >= 80:
                strip = rows[rows.index(_under(rows, "struck next"))]
                assert len(re.findall(r"[A-G][♭♮♯]", strip)) == 12
        codes = colours(pty.raw)
        assert bool(codes & set(range(30, 50))) is colour
        assert 5 not in codes  # nothing blinks
        assert 6 not in codes


def _under(rows: list[str], title: str) -> str:
    return rows[next(n for n, one in enumerate(rows) if title in one) + 1]


@pytest.mark.parametrize(("name", "seconds", "columns", "rows"), REVIEWED)
def test_reviewed_screens(name: str, seconds: float, columns: int, rows: int) -> None:
    watched = Watched(recording(name), only=(Layer.PEDALS,))
    with Pty(columns, rows) as pty:
        watched.until(seconds, pty)
        shown = "\n".join(row.rstrip() for row in pty.draw(watched.replay.scene())) + "\n"
    kept = SCREENS / f"{name}-{seconds:g}s-{columns}x{rows}.txt"
    if os.environ.get("LIVEPEDAL_KEEP_SCREENS"):
        kept.write_text(shown, "utf-8")
    assert shown == kept.read_text("utf-8"), "look at the new screen; keep it with LIVEPEDAL_KEEP_SCREENS=1"


@pytest.mark.slow
@pytest.mark.parametrize(("name", "keys", "columns", "rows"), ADVISED)
def test_reviewed_screens_of_passages_that_are_over(name: str, keys: str, columns: int, rows: int) -> None:
    watched = Watched(recording(name), advised=True)
    with Pty(columns, rows) as pty:
        watched.until(watched.end + 2)
        for key in keys:
            watched.replay.key(key)
        shown = "\n".join(row.rstrip() for row in pty.draw(watched.replay.scene())) + "\n"
    after = {"": "over", "h": "passages", "h\r": "passage"}[keys]
    kept = SCREENS / f"{name}-{after}-{columns}x{rows}.txt"
    if os.environ.get("LIVEPEDAL_KEEP_SCREENS"):
        kept.write_text(shown, "utf-8")
    assert shown == kept.read_text("utf-8"), "look at the new screen; keep it with LIVEPEDAL_KEEP_SCREENS=1"


@pytest.mark.slow
@pytest.mark.parametrize("signs", [FULL, ASCII], ids=["full", "ascii"])
@pytest.mark.parametrize("path", RECORDINGS, ids=lambda path: path.stem)
def test_no_sentence_is_cut_without_a_sign(path: Path, signs: Signs) -> None:
    """Of every finding at 80x24, what is not told in full ends in an ellipsis; when it is over the worst is told in
    full, and so is its best remedy.
    """
    watched = Watched(path, signs=signs, advised=True)
    known = 0
    while watched.replay.goes_on() and not watched.replay.scene().state:
        watched.until(watched._ns / 1e9 + 0.5)
        made = watched.replay.scene()
        since = made.snapshot.passage.start if made.snapshot.passage else 0
        findings = [f for f in made.snapshot.findings if f.us >= since]
        if not findings or len(findings) == known:
            continue
        known = len(findings)
        rows = _told(made)
        ends = signs.write("…")
        whole = " ".join((words.what(findings[-1], "C4"), *words.reasons(findings[-1])))
        if made.ended is None:
            said = " ".join(row.strip() for row in rows[1:])
            assert ends in said or signs.write(whole.split()[-1]) in said
    made = watched.replay.scene()
    assert made.ended is not None
    if made.ended.findings:
        said = " ".join(row.strip() for row in _told(made))
        worst = min(made.ended.findings, key=worst_first)
        for sentence in (words.what(worst, "C4"), *words.reasons(worst), made.ended.mend):
            assert signs.write(sentence) in said


def _told(made: Scene) -> list[str]:
    """The rows of what went wrong at 80x24."""
    rows = [plain_text(one) for one in dashboard_lines(made, 80, 24)]
    first = next(number for number, row in enumerate(rows) if WRONG in row)
    last = next(number for number, row in enumerate(rows) if "struck next" in row or "left foot" in row)
    return [row for row in rows[first + 1 : last] if row]


def test_ascii_terminals() -> None:
    watched = Watched(recording("03-paddle-wheel"), signs=ASCII)
    with Pty(80, 24) as pty:
        watched.until(4.3, pty)
        said = "\n".join(pty.rows())
    assert said.isascii()
    assert "  ######  # # #  # ##  #    #  # #  #  ##  #   ###" in said
    assert re.search("Gn5 comes too soon for the pedal G#->Gn", said)
    # One column is left between two cells, however wide an arrow is.
    (moved,) = re.findall(r"^moved.*$", said, re.MULTILINE)
    assert "#>n 0.10! b>n 0.10!" in moved
    # What may be another string has a question mark, and so nothing else has.
    assert ASCII.hazy != "?"
    (time,) = re.findall(r"^time.*$", said, re.MULTILINE)
    assert "?" not in time
    assert "::" in time


def test_resizing_leaves_nothing_behind() -> None:
    watched = Watched(recording("03-paddle-wheel"))
    with Pty(120, 40) as pty:
        watched.until(3.0, pty)
        for size in ((80, 24), (60, 20), (200, 50), (80, 24)):
            pty.resize(*size)
            made = watched.replay.scene()
            wanted = [plain_text(one) for one in dashboard_lines(made, *size)]
            assert [row.rstrip() for row in pty.draw(made)] == wanted


def test_what_stays_the_same_is_not_written_again() -> None:
    with Pty(80, 24) as pty:
        pty.draw(scene())
        before = len(pty.raw)
        pty.draw(scene())
        assert len(pty.raw) == before
        pty.draw(scene(state="paused"))
        pty.rows()
        assert 0 < len(pty.raw) - before < 2 * 80


def test_the_bell_rings_with_the_frame_that_has_news() -> None:
    with Pty(80, 24) as pty:
        for bells, rung in ((0, 0), (2, 1), (2, 1), (3, 2)):
            pty.draw(scene(bells=bells))
            assert pty.raw.count(b"\a") == rung


def test_a_fault_in_drawing_is_told_and_ends_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    watched = Watched(recording("03-paddle-wheel"))
    good = terminal.dashboard_lines

    def broken(*arguments: object) -> list[Line]:
        raise ZeroDivisionError("drawn by zero")

    with Pty(80, 24) as pty:
        watched.until(1.0, pty)
        monkeypatch.setattr(terminal, "dashboard_lines", broken)
        pty.screen.show(watched.replay)
        assert "cannot be drawn (ZeroDivisionError)" in pty.rows()[0]
        assert isinstance(pty.screen.fault, ZeroDivisionError)
        watched.until(2.0)
        monkeypatch.setattr(terminal, "dashboard_lines", good)
        pty.screen.show(watched.replay)
        wanted = [plain_text(one) for one in dashboard_lines(watched.replay.scene(), 80, 24)]
        assert [row.rstrip() for row in pty.rows()] == wanted
