"""`manual` and `explain`: the pages of livepedal/manual, on the screen; `schema`: the schemas of the JSON."""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Iterable
from importlib.resources import files

from livepedal.cli.commands import PAGES
from livepedal.cli.output import Output
from livepedal.defaults import PLAYERS
from livepedal.errors import LivepedalError, nearest


def page(name: str) -> str:
    """A page of the manual as Markdown. Raises LivepedalError if there is no such page."""
    if name not in PAGES:
        raise LivepedalError(f"The manual has no page {name!r}{nearest(name, PAGES, _all(PAGES))}")
    return (files("livepedal") / "manual" / f"{name}.md").read_text("utf-8")


def sections() -> dict[str, str]:
    """The explanation of each kind of finding, as Markdown with its heading."""
    _, *found = page("findings").split("\n## ")
    return {text.partition("\n")[0]: f"## {text.strip()}\n" for text in found}


def _all(names: Iterable[str]) -> str:
    return f"; choose from {', '.join(names)}."


def _list(head: str, names: dict[str, str], plain: bool) -> None:
    out = Output(sys.stdout, plain)
    look, width = out.look("C4"), max(map(len, names))
    out.write([*look.text(head, 0), ()])
    for name, what in names.items():
        out.write(look.row(f"    {name:{width}}  ", what))


def manual(options: argparse.Namespace) -> int:
    """Show a page of the manual, or the list of pages."""
    if options.page is None:
        _list("The manual has these pages; livepedal manual PAGE shows one:", PAGES, options.plain)
    else:
        _show(page(options.page), options.plain)
    return 0


def explain(options: argparse.Namespace) -> int:
    """Explain a kind of finding, or list the kinds."""
    known = sections()
    if options.kind is None:
        # The first sentence after the layer says what it is.
        first = {
            kind: text.split("`. ", 1)[1].partition(".")[0].partition(":")[0] for kind, text in known.items()
        }
        meanings = {kind: " ".join(text.split()) for kind, text in first.items()}
        _list("A finding is of one of these kinds; livepedal explain KIND says more:", meanings, options.plain)
        return 0
    kind = options.kind.lower()
    if kind not in known:
        raise LivepedalError(_no_kind(kind, known))
    _show(_with_figures(known[kind]), options.plain)
    return 0


def _no_kind(name: str, known: dict[str, str]) -> str:
    """What a name is that is no kind of finding: a layer, another word of the reports, or a slip."""
    kinds = [kind for kind, text in known.items() if f"\nLayer `{name}`" in text]
    if kinds:
        its = "its kinds are" if len(kinds) > 1 else "its only kind is"
        return f"{name} is a layer, not a kind of finding; {its} {', '.join(kinds)}."
    if f"\n| {name} |" in page("words"):
        return f"{name} is not a kind of finding; livepedal manual words says what it means."
    return f"There is no kind of finding {name!r}{nearest(name, known, _all(known))}"


def schema(options: argparse.Namespace) -> int:
    """Print a schema."""
    from livepedal.views import json_view

    sys.stdout.write(json_view.schema(options.of))
    return 0


def _with_figures(section: str) -> str:
    """A section with the built-in values of the figures that it names, from the manual's tables of figures."""
    before, _, rest = section.partition("\nFigures: ")
    named, _, after = rest.partition("\n\n")
    names = re.findall(r"`([\w.]+)`", named)
    if not names:
        return section
    head = "Figures as built in, times in seconds (`livepedal manual figures`: their sources, and how to set your own):"
    return "\n".join([before, head, "", *map(_values, names), "", after])


def _values(name: str) -> str:
    """What a figure is and its value for each player; or its one value, or those of its parts."""
    parts = []
    for row in page("figures").splitlines():
        key, *cells = (cell.strip("`") for cell in row.strip("| ").split(" | "))
        match cells:
            case [what, *values, _] if key == name:
                # Of a player's figure each player's value, else the one there is.
                named = (f"{player} {value}" for player, value in zip(PLAYERS, values, strict=False))
                return f"- `{name}`: {what}: {values[0] if len(set(values)) == 1 else ', '.join(named)}"
            case [_, value, _] if key.startswith(f"{name}."):
                parts.append(f"{key.removeprefix(f'{name}.')} {value}")
    return f"- `{name}`: {', '.join(parts)}"


def _show(text: str, plain: bool) -> None:
    """Drawn by rich on a terminal; as Markdown in a pipe or with --plain."""
    from livepedal.views.lines import line

    out = Output(sys.stdout, plain)
    if plain or out.signs.ascii or not sys.stdout.isatty():
        out.write(line(out.signs.write(written)) for written in text.splitlines())
        return
    from rich.console import Console
    from rich.markdown import Markdown

    console = Console(width=out.width)
    console.print(Markdown(text))
