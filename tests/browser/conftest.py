"""A real browser to open pages in: Chromium, driven by playwright.

The tests skip where either is missing; LIVEPEDAL_REQUIRE_BROWSER=1 makes that a failure. Chromium is looked for on
the path (or is what LIVEPEDAL_CHROMIUM names), and axe-core is the file that LIVEPEDAL_AXE names (axe.min.js of the
npm package `axe-core`).
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

REQUIRED = os.environ.get("LIVEPEDAL_REQUIRE_BROWSER") == "1"
NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")

Opener = Callable[..., "Page"]


def missing(what: str) -> None:
    if REQUIRED:
        pytest.fail(f"LIVEPEDAL_REQUIRE_BROWSER=1, but {what}")
    pytest.skip(what)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        missing("playwright is not installed")
    program = os.environ.get("LIVEPEDAL_CHROMIUM") or next(filter(None, map(shutil.which, NAMES)), None)
    if program is None:
        missing("there is no Chromium on the path")
    with sync_playwright() as play:
        # In a container Chromium's sandbox cannot be had; the pages are our own.
        opened = play.chromium.launch(executable_path=program, args=["--no-sandbox"])
        yield opened
        opened.close()


@pytest.fixture(scope="session")
def axe() -> str:
    """The source of axe-core."""
    path = os.environ.get("LIVEPEDAL_AXE")
    if not path or not Path(path).is_file():
        missing("LIVEPEDAL_AXE names no axe.min.js")
    return Path(path or "").read_text(encoding="utf-8")


@pytest.fixture
def open_page(browser: Browser, tmp_path: Path) -> Iterator[Opener]:
    """Opens a page's bytes, at a width and in a colour scheme. Whatever it says in the console, any error, and any
    request beside the page itself fails the test at its end.
    """
    troubles: list[str] = []
    contexts = []

    def opener(data: bytes, width: int = 1440, height: int = 900, scheme: str = "light", **more: Any) -> Page:
        file = tmp_path / f"page-{len(contexts)}.html"
        file.write_bytes(data)
        context = browser.new_context(
            viewport={"width": width, "height": height},
            color_scheme=scheme,  # type: ignore[arg-type]
            reduced_motion="reduce",
            **more,
        )
        contexts.append(context)
        shown = context.new_page()
        shown.on("console", lambda message: troubles.append(f"console: {message.text}"))
        shown.on("pageerror", lambda error: troubles.append(f"error: {error}"))
        shown.on(
            "request",
            lambda request: (
                None if request.url.split("#")[0] == file.as_uri() else troubles.append(request.url)
            ),
        )
        shown.goto(file.as_uri())
        return shown

    yield opener
    for context in contexts:
        context.close()
    assert troubles == []
