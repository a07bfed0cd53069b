"""Outputs of a `listen` that block, and sessions that are killed: hearing goes on, and no note is left on."""

from __future__ import annotations

import signal
from pathlib import Path

import pytest

from livepedal.sources.journal import unfinished
from tests.faults.listening import PATIENCE, environment, journals, listen, sent, stream, until
from tests.faults.test_listening import NOTES, all_saved

TO_SYNTH = ("--port", "Keys", "--through", "synth", "--answer", "Synth 30:0", "--output", "SYNTH")
HELD = "9060"  # a key that is struck last, and never let go of


def held(tmp_path: Path) -> None:
    """A stream of notes, and one that is held on."""
    path = stream(tmp_path / "stream", NOTES)
    path.write_text(path.read_text() + f"20 {HELD}40\n")


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP, signal.SIGKILL])
def test_what_is_played_goes_on_and_no_note_is_left_on(how: signal.Signals, tmp_path: Path) -> None:
    held(tmp_path)
    out, log, went = tmp_path / "out", tmp_path / "log", tmp_path / "went"
    with listen(*TO_SYNTH, "--out", str(out), env=environment(tmp_path, SENT=str(went))) as process:
        until(lambda: any(data.startswith(HELD) for data in sent(went)), "the last note")
        process.send_signal(how)
        _, complaint = process.communicate(timeout=PATIENCE)
    assert complaint == ""
    until(lambda: f"80{HELD[2:]}40" in sent(went), "its end")
    played = [data for data in sent(went) if data[1] == "0"]  # answers have channel 10
    assert played == [*sent(log), f"80{HELD[2:]}40"]

    def answers() -> list[str]:
        return [data for data in sent(went) if data[1] != "0"]

    assert answers()[0] == "994d64"
    until(lambda: answers()[-1][0] == "8", "the end of the last answer")
    if how != signal.SIGKILL:
        all_saved(out, log, NOTES + 1)


def test_an_output_that_blocks_stops_neither_hearing_nor_judging(tmp_path: Path) -> None:
    held(tmp_path)
    out, log = tmp_path / "out", tmp_path / "log"
    with listen(*TO_SYNTH, "--out", str(out), env=environment(tmp_path, BLOCKS="1")) as process:
        until(lambda: len(sent(log)) == 2 * NOTES + 1, "the notes")
        process.send_signal(signal.SIGINT)
        said, complaint = process.communicate(timeout=PATIENCE)
    assert (process.returncode, complaint) == (0, "")
    assert "unplayable: " in said
    all_saved(out, log, NOTES + 1)


def test_an_output_that_is_not_there_is_said_before_anything_is_heard(tmp_path: Path) -> None:
    stream(tmp_path / "stream", NOTES)
    with listen("--port", "Keys", "--answer", "organ", "--out", str(tmp_path), env=environment(tmp_path)) as process:
        said, complaint = process.communicate(timeout=PATIENCE)
    assert (process.returncode, said) == (2, "")
    assert complaint == "livepedal: There is no MIDI output 'organ'; there are: Synth 30:0.\n"
    assert not unfinished(tmp_path)
    assert not list(journals(tmp_path))


