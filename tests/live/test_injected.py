"""Fault injection: every public function of model/, advice/ and views/ that a session reaches raises, one after the
other. Whichever it is, the journal has every message, the MIDI file every note, and the session ends by itself.

Which functions those are is found out by a session that is watched. The one that fails gets another body, so that it
fails wherever it was imported. Advice, which has a process of its own, is worked out in the judge's thread here.
"""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import sys
import tempfile
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from functools import cache
from pathlib import Path
from types import CodeType, FrameType, FunctionType

import mido
import pytest

from livepedal.live import listen
from livepedal.live.listen import Listener
from livepedal.live.setup import setup_of
from livepedal.sources.journal import Header, Heard, JournalWriter, read_journal
from livepedal.views.dashboard.screen import dashboard_lines
from tests.live.here import AdvisorHere

PACKAGES = ("model", "advice", "views")
SHARES = 3  # each a test of its own, so that none takes long
HEADER = Header("2024-05-01T20:15:00+02:00", tempo=500_000, rest=300_000)
# A chord, a cluster that nobody can play, and in the second half a string that repeats too fast and a slide of pedals.
MUSIC = ((60, 64, 67), (67, 68, 69), (66,), (65,), (66,), (72, 72))
KEYS = ("h", "\r", "\x1b", "i", "i", "s", "E", "b", "\r", "p", "?", "k")


def session(folder: Path, advises: bool = True) -> tuple[Listener, int]:
    """Play, look and press keys, and end; the listener, and how many messages there were."""
    now = 0
    writer = JournalWriter(folder / "a.journal", HEADER)
    listener = Listener(setup_of(HEADER), writer, folder, clock=lambda: now, advises=advises)
    listener.start()
    receive = listener.receiver(0)
    messages = 0
    for half in range(2):
        for pitches in MUSIC:
            for kind in (0x90, 0x80):
                for pitch in pitches:
                    receive((kind, pitch, 64))
                    messages += 1
                now += 60_000_000
        now += 600_000_000
        if half:
            continue
        for key in KEYS:
            assert listener.key(key)
            with suppress(
                ZeroDivisionError
            ):  # as a screen that cannot be drawn (views/dashboard/terminal.py)
                listener.goes_on()
                dashboard_lines(listener.scene(), 100, 30)
        with suppress(ZeroDivisionError):
            listener.news_lines()
    listener.end()
    return listener, messages


@pytest.fixture(autouse=True)
def _advice_here(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(listen, "Advisor", AdvisorHere)


@cache
def functions() -> dict[CodeType, FunctionType]:
    """The public functions and methods of the packages."""
    found: dict[CodeType, FunctionType] = {}

    def add(name: str, value: object) -> None:
        if isinstance(value, property):
            value = value.fget
        value = inspect.unwrap(getattr(value, "__func__", value))  # type: ignore[arg-type]
        if isinstance(value, FunctionType) and not name.startswith("_"):
            found[value.__code__] = value

    for package in PACKAGES:
        parent = importlib.import_module(f"livepedal.{package}")
        for info in pkgutil.walk_packages(parent.__path__, f"livepedal.{package}."):
            if info.ispkg:
                continue
            module = importlib.import_module(info.name)
            for name, value in vars(module).items():
                if getattr(value, "__module__", None) != info.name:
                    continue
                add(name, value)
                if inspect.isclass(value) and not name.startswith("_"):
                    for member, inner in vars(value).items():
                        add(member, inner)
    return found


@cache
def reached() -> tuple[str, ...]:
    """The names of those that a session reaches, in the order of their modules."""
    seen: set[CodeType] = set()

    def watch(frame: FrameType, event: str, _: object) -> None:
        seen.add(frame.f_code)

    with tempfile.TemporaryDirectory() as folder, pytest.MonkeyPatch.context() as patch:
        patch.setattr(listen, "Advisor", AdvisorHere)
        threading.setprofile(watch)  # type: ignore[arg-type]
        sys.setprofile(watch)  # type: ignore[arg-type]
        try:
            session(Path(folder))
        finally:
            sys.setprofile(None)
            threading.setprofile(None)  # type: ignore[arg-type]
    known = functions()
    return tuple(sorted(_named(known[code]) for code in seen if code in known))


def _named(function: FunctionType) -> str:
    return f"{function.__module__.removeprefix('livepedal.')}:{function.__qualname__}"


def _fail(*_: object, **__: object) -> None:
    raise ZeroDivisionError("injected")


@contextmanager
def failing(name: str) -> Iterator[None]:
    """This function raises meanwhile."""
    (function,) = (one for one in functions().values() if _named(one) == name)
    code = function.__code__
    function.__code__ = _fail.__code__.replace(co_freevars=code.co_freevars)
    try:
        yield
    finally:
        function.__code__ = code


def whole(folder: Path, messages: int) -> None:
    journal = read_journal(folder / "a.journal")
    assert journal.faults == ()
    heard = [record for record in journal.records if isinstance(record, Heard)]
    assert len(heard) == messages
    notes = 0
    for path in folder.glob("*.mid"):
        if "passage" not in path.name:
            notes += sum(m.type == "note_on" for track in mido.MidiFile(path).tracks for m in track)
    assert notes == sum(record.data[0] == 0x90 for record in heard)


def test_nothing_fails_by_itself(tmp_path: Path) -> None:
    listener, messages = session(tmp_path)
    assert not listener.faults.first
    assert listener.clerk.failed == []
    whole(tmp_path, messages)
    assert listener.chapters


@pytest.mark.slow
@pytest.mark.parametrize("share", range(SHARES))
@pytest.mark.parametrize("package", PACKAGES)
def test_whatever_fails_nothing_is_lost(package: str, share: int, tmp_path: Path) -> None:
    names = [name for name in reached() if name.startswith(f"{package}.")]
    assert len(names) > 20
    names = names[share::SHARES]
    noticed = 0
    for number, name in enumerate(names):
        folder = tmp_path / str(number)
        folder.mkdir()
        with failing(name):
            listener, messages = session(folder, advises=package == "advice")
        try:
            whole(folder, messages)
            assert listener.clerk.failed == []
            for error in listener.faults.first.values():
                assert isinstance(error, ZeroDivisionError), error
        except AssertionError as error:
            raise AssertionError(f"{name}: {error}; {listener.faults.first}") from error
        noticed += bool(listener.faults.first)
    assert noticed or package == "advice"  # of which a session says itself that there is none
