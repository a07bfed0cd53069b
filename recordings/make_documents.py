"""Write the README's pictures and the manual's table of figures again: `python recordings/make_documents.py`.

The pictures are the real dashboard and the real report, drawn from the recordings and exported by rich as
SVG; the table is made from figures.toml. So they stay true, and a test says when they are out of date.
"""

from __future__ import annotations

import re
import tomllib
from io import StringIO
from pathlib import Path

from rich.console import Console
from rich.segment import Segment, Segments

from livepedal import check_file
from livepedal.advice.judging.basis import Basis
from livepedal.harp import Figures
from livepedal.live.playback import Pace
from livepedal.music.parts import choose_parts
from livepedal.music.song import read_song
from livepedal.replay import Replay
from livepedal.views.dashboard.screen import dashboard_lines
from livepedal.views.lines import Line, segments
from livepedal.views.report.look import Look
from livepedal.views.report.text import file_lines, opening
from livepedal.views.signs import FULL
from tests.live.here import AdvisorHere

ROOT = Path(__file__).parents[1]
PICTURES = ROOT / "recordings" / "pictures"
FIGURES = ROOT / "livepedal" / "manual" / "figures.md"
BEGIN, END = "<!-- figures: made by recordings/make_documents.py -->", "<!-- figures end -->"
# (name, recording, seconds, columns, rows, keys pressed there)
SCREENS = (
    ("dashboard", "05-paddle-wheel-revised", 3.0, 80, 24, ""),
    ("unplayable", "03-paddle-wheel", 4.3, 80, 24, ""),
    ("passage", "03-paddle-wheel", 11.0, 80, 24, "h\r"),
)
# What figures mean that are those of a harp, or of one string.
OF_STRINGS = {
    "lowest": "its lowest string",
    "highest": "its highest string",
    "fixed": "its strings without a pedal, and how they are tuned",
    "ring": "how long this string is heard",
    "loud": "how long this string is too loud for its pedal to move unheard",
}
# rich's own picture of a terminal, without its web fonts: whoever opens it asks no other server for anything.
FORMAT = """\
<svg class="rich-terminal" viewBox="0 0 {width} {height}" xmlns="http://www.w3.org/2000/svg">
<style>
.{unique_id}-matrix {{ font-family: Menlo, Consolas, "DejaVu Sans Mono", monospace; font-size: {char_height}px;
line-height: {line_height}px; }}
.{unique_id}-title {{ font-size: 18px; font-weight: bold; font-family: sans-serif; }}
{styles}
</style>
<defs><clipPath id="{unique_id}-clip-terminal">
<rect x="0" y="0" width="{terminal_width}" height="{terminal_height}" /></clipPath>
{lines}
</defs>
{chrome}
<g transform="translate({terminal_x}, {terminal_y})" clip-path="url(#{unique_id}-clip-terminal)">
{backgrounds}
<g class="{unique_id}-matrix">
{matrix}
</g></g></svg>
"""


def picture(lines: list[Line], title: str, columns: int) -> str:
    """The lines as SVG, in a window of so many columns."""
    console = Console(
        record=True, width=columns, file=StringIO(), color_system="truecolor", force_terminal=True
    )
    for line in lines:
        console.print(Segments([*segments(line), Segment.line()]), soft_wrap=True)
    return console.export_svg(title=title, code_format=FORMAT, unique_id="livepedal")


def screen(recording: str, seconds: float, columns: int, rows: int, keys: str) -> str:
    """The dashboard in the middle of a recording."""
    figures = Figures.builtin()
    now = 0
    path = ROOT / "recordings" / f"{recording}.mid"
    part = choose_parts(read_song(path))[0]
    replay = Replay(
        part,
        path.name,
        Basis(figures, figures.instrument("47")),
        pace=Pace(clock=lambda: now),
        stays=True,
        advisor=AdvisorHere,
        check=lambda player, start: f"livepedal check recordings/{path.name}",
    )
    while now < int(seconds * 1e9):
        now = min(now + 20_000_000, int(seconds * 1e9))
        replay.goes_on()
    for key in keys:
        replay.key(key)
    return picture(dashboard_lines(replay.scene(), columns, rows), f"livepedal replay {recording}", columns)


def report() -> str:
    """The report of a recording."""
    path = ROOT / "recordings" / "03-paddle-wheel.mid"
    made = check_file(path, name=f"recordings/{path.name}", remedies=True)
    look = Look(FULL, width=100)
    lines = [*opening(made.player, made.instrument, look), *file_lines(made.files[0], look)][:41]
    return picture(lines, f"livepedal check --remedies recordings/{path.name}", 100)


def pictures() -> dict[str, str]:
    """Every picture by the name of its file."""
    made = {f"{name}.svg": screen(*how) for name, *how in SCREENS}
    made["report.svg"] = report()
    return made


def figures_table() -> str:
    """Every figure of figures.toml as Markdown: what it is, its values, its source and how sure that is."""
    text = (ROOT / "livepedal" / "harp" / "figures.toml").read_text("utf-8")
    data = tomllib.loads(text)
    meanings = meanings_in(text)
    players = data["players"]
    rows = [
        "| figure | what | relaxed | working | virtuoso | source, and how sure |",
        "|---|---|---|---|---|---|",
    ]
    for key, value in players["relaxed"].items():
        if key == "source":
            continue
        values = [value]
        sources = [players["relaxed"]["source"].get(key, "")]
        for name in ("working", "virtuoso"):
            values.append(players[name].get(key, values[-1]))
            sources.append(players[name]["source"].get(key, "") if key in players[name] else "")
        who: dict[str, list[str]] = {}
        for name, source in zip(("relaxed", "working", "virtuoso"), sources, strict=True):
            if source:
                who.setdefault(source, []).append(name)
        told = "; ".join(
            _status(source) if len(who) == 1 else f"{', '.join(names)}: {_status(source)}"
            for source, names in who.items()
        )
        meaning = meanings.get(f"players.relaxed.{key}", "")
        rows.append(f"| `{key}` | {meaning} | {' | '.join(map(_value, values))} | {told} |")
    rows += ["", "| other figure | what | value | source, and how sure |", "|---|---|---|---|"]
    for table, fields in data.items():
        if table == "players":
            continue
        tables = fields.items() if table == "instruments" else [("", fields)]
        for name, inner in tables:
            for key, value in inner.items():
                if key == "source":
                    continue
                source = inner["source"] if isinstance(inner["source"], str) else inner["source"].get(key, "")
                where = f"{table}.{name}.{key}" if name else f"{table}.{key}"
                meaning = meanings.get(where) or OF_STRINGS.get(key) or OF_STRINGS[table]
                rows.append(f"| `{where}` | {meaning} | {_value(value)} | {_status(source)} |")
    return "\n".join(rows)


def meanings_in(text: str) -> dict[str, str]:
    """What the comment behind each figure of figures.toml says, by the figure's key."""
    found = {}
    table = ""
    for line in text.splitlines():
        if header := re.match(r"\[(.+)\]", line):
            table = header[1]
        elif said := re.match(r"(\w+) = \S+ +# (.*)", line):
            found[f"{table}.{said[1]}"] = said[2]
    return found


def _value(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict):
        return ", ".join(f"{key} {_value(one)}" for key, one in value.items())
    return str(value)


def _status(source: str) -> str:
    status, colon, text = source.partition(": ")
    return f"*{status}*{colon}{text}".replace("|", "\\|")


def with_table(page: str) -> str:
    """The page with the table as it should be."""
    before, rest = page.split(BEGIN)
    return f"{before}{BEGIN}\n\n{figures_table()}\n\n{END}{rest.split(END)[1]}"


def main() -> None:
    PICTURES.mkdir(exist_ok=True)
    for name, svg in pictures().items():
        (PICTURES / name).write_text(svg, "utf-8")
    FIGURES.write_text(with_table(FIGURES.read_text("utf-8")), "utf-8")


if __name__ == "__main__":
    main()
