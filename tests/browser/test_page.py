"""The page in a real browser: it opens quietly, fits, leads from findings to their places and back, and passes an
accessibility check by other people's rules (axe-core, WCAG 2.2 A and AA).
"""

from __future__ import annotations

import io
import re
from functools import cache
from typing import TYPE_CHECKING, Any

import mido
import pytest

from livepedal import check_file
from livepedal.advice.judging.basis import Basis
from livepedal.harp import Figures
from livepedal.views import page
from tests.browser.conftest import Opener
from tests.places import RECORDINGS

pytestmark = pytest.mark.slow  # a browser is started

if TYPE_CHECKING:
    from playwright.sync_api import Page

FIGURES = Figures.builtin()
NAMES = ("03-paddle-wheel", "08-two-banks", "10-hawsers", "12-moored", "14-engine-bells", "15-cue-export")
WIDTHS = (360, 1440)
LONGEST = "".join(chr(c) for c in range(0x21, 0x7F) if chr(c) not in "/\\") * 2


@cache
def made(name: str) -> bytes:
    if name == "nasty":
        report = check_file(nasty(), name=f"<script>{LONGEST}.mid", only=("pedals",))
    else:
        # One of them with all layers and remedies; the others are there for what they look like.
        whole = name == "03-paddle-wheel"
        report = check_file(RECORDINGS / f"{name}.mid", only=() if whole else ("pedals",), remedies=whole)
    return page.to_bytes(report.files[0], Basis(FIGURES, report.instrument, report.player.name))


def nasty() -> bytes:
    """Long names without a blank that would act if they were let, slow tempo, one bar of 31 beats."""
    file = mido.MidiFile()
    track = mido.MidiTrack()
    track.append(mido.MetaMessage("track_name", name=f"<script>document.title='x'</script>Harp{LONGEST}"))
    track.append(mido.MetaMessage("marker", text=f"</svg><script>alert(1)</script>\x1b{LONGEST}"))
    track.append(mido.MetaMessage("set_tempo", tempo=3_000_000))
    track.append(mido.MetaMessage("time_signature", numerator=31, denominator=8))
    for n in range(40):
        track.append(mido.Message("note_on", note=60 + n % 3, velocity=64))
        track.append(mido.Message("note_off", note=60 + n % 3, time=12 if n % 4 else 400))
    file.tracks.append(track)
    data = io.BytesIO()
    file.save(file=data)
    return data.getvalue()


def in_view(shown: Page, selector: str) -> bool:
    return bool(
        shown.evaluate(
            """selector => {
                const box = document.querySelector(selector).getBoundingClientRect();
                return box.bottom > 0 && box.top < innerHeight && box.right > 0 && box.left < innerWidth;
            }""",
            selector,
        )
    )


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", [*NAMES, "nasty"])
def test_nothing_overflows(name: str, width: int, open_page: Opener) -> None:
    shown = open_page(made(name), width)
    assert shown.evaluate("document.documentElement.scrollWidth") <= width
    # Nor is anything cut off: no element stands out to the right, but what a scrolling box holds.
    out = shown.evaluate(
        """() => [...document.querySelectorAll("body *")]
            .filter(one => !one.closest("svg.defs, svg.bar svg, #tip") && !one.matches("use, svg.bar > g[aria-hidden]"))
            .filter(one => one.getBoundingClientRect().right > innerWidth + 1)
            .map(one => one.outerHTML.slice(0, 120))"""
    )
    assert out == []


def test_a_name_does_not_act(open_page: Opener) -> None:
    shown = open_page(made("nasty"))
    assert shown.title().startswith("<script>!")
    assert shown.locator("script").count() == 1
    assert "<script>document.title='x'</script>Harp" in shown.locator("h2").inner_text()


@pytest.mark.parametrize("width", WIDTHS)
def test_a_click_on_a_finding_scrolls_to_its_place_and_back(width: int, open_page: Opener) -> None:
    shown = open_page(made("03-paddle-wheel"), width, height=500)
    links = shown.locator(".findings .where a")
    last = links.count() - 1
    href = links.nth(last).get_attribute("href")
    assert href is not None
    links.nth(last).click()
    assert in_view(shown, href)
    # The mark is lit, and has the keyboard.
    assert "lit" in (shown.locator(href).get_attribute("class") or "").split()
    assert shown.evaluate("document.activeElement.id") == href[1:]
    back = shown.locator(href).get_attribute("href")
    assert back is not None
    shown.keyboard.press("Enter")
    assert in_view(shown, back)
    assert shown.evaluate("document.activeElement.id") == back[1:]


def test_links_lead_there_without_the_script_too(open_page: Opener) -> None:
    shown = open_page(made("03-paddle-wheel"), 360, java_script_enabled=False)
    links = shown.locator(".findings .where a")
    href = links.nth(links.count() - 1).get_attribute("href") or ""
    links.nth(links.count() - 1).click()
    box = shown.locator(href).bounding_box()
    assert box is not None
    assert 0 <= box["y"] < 900


def test_pointing_at_a_mark_tells_the_reason(open_page: Opener) -> None:
    shown = open_page(made("03-paddle-wheel"))
    tip = shown.locator("#tip")
    assert tip.is_hidden()
    shown.locator("#p1-m1 .hit").hover(force=True)
    assert "0.17 s needed, 0.10 s available" in tip.inner_text()
    shown.locator(".change.impossible .hit").first.hover(force=True)
    assert "There is no time for it" in tip.inner_text()
    shown.keyboard.press("Escape")
    assert tip.is_hidden()
    # A note: its bar and beat, its string, its verdict. The first is the low A of the first bar.
    box = shown.locator("svg.bar").first.bounding_box()
    assert box is not None
    shown.mouse.move(box["x"] + 9, box["y"] + 60)
    assert re.match(r"bar 1, beat 1: .*\(easy\)", tip.inner_text())


def test_a_tap_tells_the_reason_and_a_second_one_leads_to_it(open_page: Opener) -> None:
    shown = open_page(made("03-paddle-wheel"), 360, has_touch=True)
    mark = shown.locator("#p1-m2 .plate")
    mark.tap()
    assert "Finding 2" in shown.locator("#tip").inner_text()
    assert not in_view(shown, "#p1-f2")
    mark.tap()
    assert in_view(shown, "#p1-f2")


def test_marks_tell_the_reason_to_the_keyboard(open_page: Opener) -> None:
    shown = open_page(made("03-paddle-wheel"))
    shown.keyboard.press("Tab")
    for _ in range(60):
        shown.keyboard.press("Tab")
        if shown.evaluate("document.activeElement.id") == "p1-m1":
            break
    assert "Finding 1" in shown.locator("#tip").inner_text()


def test_light_and_dark(open_page: Opener) -> None:
    def background(shown: Page) -> str:
        return str(shown.evaluate("getComputedStyle(document.body).backgroundColor"))

    light, dark = (open_page(made("12-moored"), scheme=scheme) for scheme in ("light", "dark"))
    before = background(light)
    assert before != background(dark)
    light.locator("#theme").click()
    assert background(light) == background(dark)
    dark.locator("#theme").click()
    assert background(dark) == before


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", ["03-paddle-wheel", "08-two-banks", "nasty"])
def test_axe_finds_nothing(name: str, width: int, scheme: str, open_page: Opener, axe: str) -> None:
    shown = open_page(made(name), width, scheme=scheme)
    shown.evaluate(axe)
    found: dict[str, Any] = shown.evaluate(
        """() => axe.run(document, {runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
                                   rules: {"target-size": {enabled: false}}})"""
    )
    told = [(one["id"], one["help"], one["nodes"][0]["html"][:200]) for one in found["violations"]]
    assert told == []
    # That it looked at all.
    assert {"color-contrast", "html-has-lang", "document-title"} <= {one["id"] for one in found["passes"]}


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_text_in_the_drawings_stands_out_from_the_paper(scheme: str, open_page: Opener) -> None:
    """axe leaves text in SVG out; WCAG 2.2, 1.4.3 wants 4.5 to 1 for text, and 1.4.11 3 to 1 for signs."""
    shown = open_page(made("14-engine-bells"), scheme=scheme)
    ratios: dict[str, float] = shown.evaluate(
        """() => {
            const parse = text => text.match(/[\\d.]+/g).slice(0, 3).map(Number);
            const light = colour => {
                const [r, g, b] = parse(colour).map(v => v / 255)
                    .map(v => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
                return 0.2126 * r + 0.7152 * g + 0.0722 * b;
            };
            const paper = light(getComputedStyle(document.body).backgroundColor);
            const against = colour => {
                const [high, low] = [light(colour), paper].sort((a, b) => b - a);
                return (high + 0.05) / (low + 0.05);
            };
            const found = {};
            for (const one of document.querySelectorAll(".bar text, .defs text"))
                found["text " + (one.getAttribute("class") || "")] = against(getComputedStyle(one).fill);
            for (const name of ["easy", "playable", "virtuoso", "unplayable"]) {
                const sample = document.querySelector(`.sample.${name}`);
                found["text sample " + name] = against(getComputedStyle(sample).color);
            }
            for (const one of document.querySelectorAll(".ring, .stem, .plate"))
                found["sign " + one.getAttribute("class")] = against(getComputedStyle(one).stroke);
            return found;
        }"""
    )
    assert len(ratios) > 10
    for name, ratio in ratios.items():
        assert ratio >= (4.5 if name.startswith("text") else 3), name


def test_the_verdicts_keep_apart_in_grey_or_in_shape(open_page: Opener) -> None:
    shown = open_page(made("14-engine-bells"))
    signs = shown.locator(".legend li").all_inner_texts()[:4]
    assert [text.split(":")[0].split() for text in signs] == [
        ["●", "easy"],
        ["◆", "playable"],
        ["▲", "virtuoso"],
        ["■", "unplayable"],
    ]


def test_on_paper_nothing_is_cut_off_and_everything_is_light(open_page: Opener) -> None:
    shown = open_page(made("14-engine-bells"), width=718, scheme="dark")  # A4 without its margins
    shown.emulate_media(media="print")
    assert shown.evaluate("document.documentElement.scrollWidth") <= 718
    assert shown.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    data = shown.pdf(prefer_css_page_size=True)
    sizes = {tuple(map(float, box.split())) for box in re.findall(rb"/MediaBox \[([\d. ]+)\]", data)}
    (size,) = sizes
    # ISO 216: A4 is 210 mm by 297 mm; a point is 1/72 inch.
    assert [round(length / 72 * 25.4) for length in size[2:]] == [210, 297]


def test_rows_hold_five_to_eight_bars_and_a_sheet_of_paper_at_most_thirty(open_page: Opener) -> None:
    """Issue 21; a part of 120 bars of semiquavers over four octaves, with and without findings beside it."""
    for top in (100, 105):  # no string gives B7 (105 with the run's four notes above it)
        file = mido.MidiFile()
        track = mido.MidiTrack([mido.MetaMessage("track_name", name="Harp")])
        for n in range(120 * 16):
            pitch = (48, 55, top - 12 * (n % 3), 64)[n % 4]
            track.append(mido.Message("note_on", note=pitch, velocity=64))
            track.append(mido.Message("note_off", note=pitch, time=120))
        file.tracks.append(track)
        data = io.BytesIO()
        file.save(file=data)
        report = check_file(data.getvalue(), name="long.mid", only=("strings",))
        shown = open_page(
            page.to_bytes(report.files[0], Basis(FIGURES, report.instrument, report.player.name)), 1280
        )
        rows: list[int] = shown.evaluate(
            """() => {
                const rows = new Map();
                for (const bar of document.querySelectorAll("svg.bar")) {
                    const y = Math.round(bar.getBoundingClientRect().top);
                    rows.set(y, (rows.get(y) || 0) + 1);
                }
                return [...rows.values()];
            }"""
        )
        assert all(5 <= count <= 8 for count in rows[:-1]), rows
        pages = shown.pdf(prefer_css_page_size=True).count(b"/Type /Page\n")
        # The first has the verdict and what the signs mean, the last the rest.
        assert 120 / 30 <= pages <= 120 / 24 + 2
