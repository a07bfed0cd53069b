"""Names from outside cannot colour, move or break anything: not the terminal, the dashboard, the page, the JSON, a
sentence about a fault, or a MIDI file that livepedal writes.
"""

from __future__ import annotations

import io
import json
import re
import sys
from html.parser import HTMLParser
from pathlib import Path

import mido
import pytest

from livepedal.cli import main
from livepedal.harp import load_figures
from livepedal.sources.text import LONGEST_NAME, clean, decode, seen
from tests.cli.terminals import Terminal
from tests.faults.evil import ACTS, NAMES, RECORDINGS, TURNS, folder, harmless, music

HARD = str(RECORDINGS / "03-paddle-wheel.mid")
SGR = re.compile(r"\x1b\[[0-9;]*m")


@pytest.mark.parametrize("name", NAMES, ids=lambda name: repr(name[:20]))
def test_one_name(name: str) -> None:
    for shown in (clean(name), decode(name.encode("utf-8")), decode(name.encode("utf-16"))):
        assert shown.isprintable()
        assert len(shown) <= LONGEST_NAME
        assert not set("".join((*TURNS, "\x1b\x9b"))) & set(shown)
    assert seen(name).isprintable()
    assert len(seen(name)) == len(name)


COMMANDS = {
    "check": ["check", "FILE"],
    "remedies": ["check", "--remedies", "FILE"],
    "table": ["check", "FILE", HARD],
    "quiet": ["check", "--quiet", "FILE"],
    "tracks": ["tracks", "FILE"],
    "merged": ["tracks", "--merge", "FILE"],
    "spell": ["spell", "FILE"],
    "compare": ["compare", "FILE", "OTHER"],
    "replay": ["replay", "--plain", "--speed", "1000", "FILE"],
    "share": ["share", "--track", "4", "FILE", "-o", "OUT"],
    "combine": ["combine", "--track", "2", "--track", "3", "FILE", "-o", "OUT"],
    "marked": ["check", "FILE", "--marked", "OUT"],
    "no such track": ["check", "--track", "\x1b[41m[red]", "FILE"],
}


@pytest.fixture(scope="module")
def evil(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return folder(tmp_path_factory.mktemp("evil"))


def arguments(command: str, evil: Path, tmp_path: Path) -> list[str]:
    other = evil.with_name("other \x1b[41m.mid")
    if "OTHER" in COMMANDS[command] and not other.exists():
        music(other)
    places = {"FILE": evil, "OTHER": other, "OUT": tmp_path / "out [red]\x1b[41m\n.mid"}
    return [str(places.get(word, word)) for word in COMMANDS[command]]


@pytest.mark.slow
@pytest.mark.parametrize("command", COMMANDS)
def test_in_a_pipe(command: str, evil: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(arguments(command, evil, tmp_path))
    said = capsys.readouterr()
    assert "went wrong" not in said.err
    assert harmless(said.out)
    assert harmless(said.err)
    assert re.search(r"\[(red|blue)\]", said.out + said.err)  # it is shown, as it stands
    # A line that a name has begun would begin with what the name says.
    assert not re.search("(?m)^livepedal: all is well", said.out + said.err)


class Tty(io.StringIO):
    """As a terminal is to a program that does not draw on it."""

    encoding = "utf-8"

    def isatty(self) -> bool:
        return True


@pytest.mark.slow
@pytest.mark.parametrize("command", ["check", "table", "tracks", "spell", "compare"])
def test_on_a_terminal(command: str, evil: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """In colour: apart from livepedal's own colours there is nothing in it that acts."""
    terminal = Tty()
    monkeypatch.setattr(sys, "stdout", terminal)
    for name, value in {"TERM": "xterm-256color", "COLUMNS": "100", "LINES": "40"}.items():
        monkeypatch.setenv(name, value)
    monkeypatch.delenv("NO_COLOR", raising=False)
    main(arguments(command, evil, tmp_path))
    said = terminal.getvalue()
    assert SGR.search(said)
    assert "\x1b[41m" not in said
    assert harmless(SGR.sub("", said))
    assert "<b onload" in said or "[red]" in said


def test_on_the_dashboard(evil: Path) -> None:
    with Terminal("replay", str(evil), "--track", "4", columns=100, rows=30) as terminal:
        shown = terminal.until("q quit", "harp")
        assert len(shown.split("\n")) == 30
        terminal.type(b"q")
        terminal.end()
        for act in (*ACTS, *TURNS):
            if act not in ("\x08", "\x7f"):
                assert act.encode() not in terminal.raw, act
        assert terminal.given_back()


class Skeleton(HTMLParser):
    """Tags and the names of their attributes: what a page is made of, without its texts."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, ...]] = []
        self.texts: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, *(name for name, _ in attrs)))

    def handle_endtag(self, tag: str) -> None:
        self.tags.append((f"/{tag}",))

    def handle_data(self, data: str) -> None:
        self.texts.append(data)

    def handle_comment(self, data: str) -> None:
        self.tags.append(("!--",))

    def unknown_decl(self, data: str) -> None:
        self.tags.append(("![",))


def page(source: Path, target: Path) -> tuple[Skeleton, str]:
    main(["check", "--remedies", str(source), "--page", str(target)])
    text = target.read_text(encoding="utf-8")
    found = Skeleton()
    found.feed(text)
    found.close()
    return found, text


@pytest.mark.slow
def test_on_the_page(evil: Path, tmp_path: Path) -> None:
    """The page of the evil file is made of the same tags and attributes as that of the same music with tame names."""
    tame = music(tmp_path / "tame.mid", names=tuple("harp" for _ in NAMES))
    made, text = page(evil, tmp_path / "evil.html")
    expected, _ = page(tame, tmp_path / "tame.html")
    assert made.tags == expected.tags
    assert harmless(text.replace("\xa0", " "))  # our own, so that what belongs together stays on one line
    assert text.count("<script>") == 1
    assert "49" not in re.findall(r"harp[^<]*", text)[0]
    shown = "".join(made.texts)
    assert "[red]" in shown
    assert "<script>alert(1)" in shown
    assert not [one for one in made.tags for name in one[1:] if name.startswith("on")]


@pytest.mark.slow
@pytest.mark.parametrize("form", ["--json", "--jsonl"])
def test_in_json(form: str, evil: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["check", form, "--remedies", "--sheet", str(evil), "missing \x1b[41m\n.mid"])
    said = capsys.readouterr()
    assert said.out.isascii()
    assert harmless(said.out)
    assert harmless(said.err)
    lines = said.out.splitlines()
    first, missing = map(json.loads, lines) if form == "--jsonl" else json.loads(said.out)["files"]
    assert first["path"] == str(evil)  # the path is data, and exact
    assert missing["error"].isprintable()
    for part in first["parts"]:
        assert part["name"].isprintable()
        assert all(track["name"].isprintable() for track in part["tracks"])
    assert first["verdict"] == "unplayable"
    marks = re.findall(r'"mark": ("(?:[^"\\]|\\.)*")', said.out)
    assert marks
    assert all(json.loads(mark).isprintable() for mark in marks)
    for other in (["tracks", "--json"], ["spell", "--json"]):
        main([*other, str(evil)])
        said = capsys.readouterr()
        assert said.out.isascii()
        assert harmless(said.out)
        json.loads(said.out)


@pytest.mark.slow
def test_in_midi_files_that_are_written(evil: Path, tmp_path: Path) -> None:
    """Marked, every text that was there stays as it was, and each of ours is a line of ASCII; two harps and one have
    names that can be seen.
    """
    for command in ("marked", "share", "combine"):
        main(arguments(command, evil, tmp_path))
        (path,) = tmp_path.glob("*.mid")
        made = mido.MidiFile(path, charset="utf-8")
        path.unlink()
        texts = _texts(made)
        if command == "marked":
            own = [text for _, text in texts if text.startswith(("livepedal:", "LP "))]
            assert len(own) > 2
            assert all(text.isascii() and text.isprintable() for text in own)
            kept = [one for one in texts if not one[1].startswith(("livepedal", "LP "))]
            assert kept == _texts(mido.MidiFile(evil, charset="utf-8"))
        else:
            assert any("[red]" in text for _, text in texts)
            assert all(text.isprintable() and len(text) < 1000 for _, text in texts)


def _texts(file: mido.MidiFile) -> list[tuple[str, str]]:
    kinds = {"track_name": "name"} | dict.fromkeys(
        ("text", "lyrics", "marker", "cue_marker", "copyright"), "text"
    )
    return [(m.type, getattr(m, kinds[m.type])) for track in file.tracks for m in track if m.type in kinds]


EVIL = "[red]\x1b[41m\u202e\n<script>"


@pytest.mark.parametrize(
    "command",
    [
        ["check", EVIL],
        ["check", f"{EVIL}*.mid"],
        ["check", "--track", EVIL, HARD],
        ["check", "--player", EVIL, HARD],
        ["check", "--harp", EVIL, HARD],
        ["check", "--start", EVIL, HARD],
        ["check", "--only", EVIL, HARD],
        ["check", "--fail-on", EVIL, HARD],
        ["check", "--middle-c", EVIL, HARD],
        ["check", "--ignore-below", EVIL, HARD],
        ["check", "--figures", EVIL, HARD],
        ["check", "--spell", EVIL, HARD],
        ["check", "--spell", f"all: {EVIL}", HARD],
        ["check", "--spell-file", EVIL, HARD],
        ["check", "--jobs", EVIL, HARD],
        ["check", HARD, "--page", f"{EVIL}/x.html"],
        ["check", HARD, "--marked", f"{EVIL}/x.mid"],
        ["share", HARD, "-o", f"{EVIL}/x.mid"],
        ["compare", EVIL, HARD],
        ["tracks", EVIL],
        ["spell", EVIL],
        ["replay", EVIL],
        ["replay", "--speed", EVIL],
        ["watch", EVIL],
        ["recover", EVIL],
        ["recover", "--list", EVIL],
        ["listen", "--port", EVIL, "--backend", EVIL],
        ["listen", "--meter", EVIL],
        [EVIL],
        ["check", f"--{EVIL}", HARD],
    ],
    ids=lambda command: " ".join("EVIL" if "red" in word else word.rpartition("/")[2] for word in command),
)
def test_a_sentence_about_them_is_one_line(
    command: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    assert main(command) == 2
    said = capsys.readouterr()
    sentence, *table = said.err.splitlines()
    assert sentence.startswith("livepedal: ")
    assert "went wrong" not in sentence
    assert harmless(said.out + said.err)
    assert bool(table) == ("--track" in command)  # the tracks to choose from
    assert list(tmp_path.iterdir()) == []


def test_players_and_harps_of_ones_own(
    evil: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A figures file may call them anything that TOML can write."""
    figures = tmp_path / "evil.toml"
    name = "[red]\\u001b[41m\\u202e\\n<script>"
    figures.write_text(
        f'[players."{name}"]\nbased_on = "working"\n\n[instruments."{name}"]\nlowest = "C1"\nhighest = "G7"\n',
        encoding="utf-8",
    )
    try:
        known = load_figures(figures)
        player, harp = known.players[-1].name, known.instruments[-1].name
    except Exception as error:
        assert str(error).isprintable()  # refusing them is as good
        return
    player = next((one.name for one in known.players if "red" in one.name), player)
    harp = next((one.name for one in known.instruments if "red" in one.name), harp)
    target = tmp_path / "out.html"
    main(
        ["check", "--figures", str(figures), "--player", player, "--harp", harp, HARD, "--page", str(target)]
    )
    said = capsys.readouterr()
    assert harmless(said.out)
    assert harmless(said.err)
    if target.exists():
        assert harmless(target.read_text(encoding="utf-8"))
        assert target.read_text(encoding="utf-8").count("<script>") == 1
