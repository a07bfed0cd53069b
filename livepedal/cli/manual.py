"""`manual` and `explain`: the pages of livepedal/manual, on the screen."""

from __future__ import annotations

import argparse
import difflib
import sys
from importlib.resources import files

from livepedal.cli.commands import PAGES
from livepedal.cli.output import Output
from livepedal.errors import LivepedalError


def page(name: str) -> str:
    """A page of the manual as Markdown. Raises LivepedalError if there is no such page."""
    if name not in PAGES:
        raise LivepedalError(f"The manual has no page {name!r}{_nearest(name, PAGES)}")
    return (files("livepedal") / "manual" / f"{name}.md").read_text("utf-8")


def sections() -> dict[str, str]:
    """The explanation of each kind of finding, as Markdown with its heading."""
    _, *found = page("findings").split("\n## ")
    return {text.partition("\n")[0]: f"## {text.strip()}\n" for text in found}


def _nearest(name: str, names: dict[str, str]) -> str:
    near = difflib.get_close_matches(name, names, 1)
    return f"; did you mean {near[0]}?" if near else f"; choose from {', '.join(names)}."


def _listed(command: str, names: dict[str, str]) -> str:
    width = max(map(len, names))
    return "".join(f"    livepedal {command} {name:{width}}  {what}\n" for name, what in names.items())


def manual(options: argparse.Namespace) -> int:
    """Show a page of the manual, or the list of pages."""
    if options.page is None:
        sys.stdout.write(f"The manual has these pages:\n\n{_listed('manual', PAGES)}")
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
        sys.stdout.write(f"A finding is of one of these kinds:\n\n{_listed('explain', meanings)}")
        return 0
    if options.kind not in known:
        raise LivepedalError(f"There is no kind of finding {options.kind!r}{_nearest(options.kind, known)}")
    _show(known[options.kind], options.plain)
    return 0


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
