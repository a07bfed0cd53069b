"""Figures: what comes built in, what a file may change, and what is said about a file that is wrong."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Protocol
from unittest import mock

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from livepedal.errors import LivepedalError
from livepedal.harp import (
    NEVER,
    Figures,
    HarpString,
    Instrument,
    Pedal,
    Position,
    Ringing,
    Spelling,
    load_figures,
    user_figures_file,
)
from livepedal.harp import figures as figures_module


class Write(Protocol):
    """Writes a file of figures and returns where it is."""

    def __call__(self, text: str | bytes, name: str = "mine.toml") -> Path: ...


@pytest.fixture
def write(tmp_path: Path) -> Write:
    def write_(text: str | bytes, name: str = "mine.toml") -> Path:
        path = tmp_path / name
        path.write_bytes(text.encode() if isinstance(text, str) else text)
        return path

    return write_


def own_figures(path: Path) -> Figures:
    """The built-in ones with those of this file alone laid over them."""
    with mock.patch.object(figures_module, "user_figures_file", return_value=path.with_name("nobody.toml")):
        return load_figures(path)


# -- Built in ----------------------------------------------------------------------------------------------


def test_built_in_players() -> None:
    players = Figures.builtin().players
    assert [player.name for player in players] == ["relaxed", "working", "virtuoso"]
    assert [(player.flick, player.cycle) for player in players] == [
        (300_000, 1_000_000),
        (150_000, 500_000),  # about two movements a second and foot: Volpé Bligh, item 6
        (100_000, 250_000),
    ]
    assert [player.two_notch_flick for player in players] == [390_000, 195_000, 130_000]
    for player in players:
        assert (player.settle, player.overlap, player.grip) == (20_000, 80_000, 60_000)
        assert not player.two_at_once
        assert not player.reach_across
    assert players[1].leads == (0, 170_000, 215_000)


def test_built_in_windows() -> None:
    assert Figures.builtin().window.attack == 35_000
    assert Figures.builtin().window.passage_rest == 1_500_000


def test_strings_without_pedal() -> None:
    # C1, D1 and usually the top G: Canton & Overlach, composingforharp.com, Pedals. Tuned natural: memory.
    harp = Figures.builtin().instrument("47")
    assert [spelling.name for spelling in harp.fixed] == ["C♮1", "D♮1", "G♮7"]
    assert all(spelling.fixed for spelling in harp.fixed)
    # Tuned down for a note that no other string gives (siba, scordatura), not up: C♭1 (23) and D♭1 (25), but not G♯7
    # (104); F♯7 is on the F string alone.
    assert [spelling.name for spelling in harp.spellings(23)] == ["C♭1"]
    assert harp.spellings(104) == ()
    assert [spelling.name for spelling in harp.spellings(102)] == ["F♯7"]
    assert harp.spellings(24) == (Spelling(HarpString.parse("C1"), Position.NATURAL, fixed=True),)
    assert harp.spellings(25) == (Spelling(HarpString.parse("D1"), Position.FLAT, fixed=True),)
    assert [spelling.name for spelling in harp.spellings(27)] == ["E♭1"]
    assert harp.spellings(-1) == harp.spellings(128) == ()


def test_at_the_edges_only_strings_that_exist_count() -> None:
    harp = Figures.builtin().instrument("40")
    assert harp.spellings(29) == ()  # F1: there is no F string, and G double flat does not exist
    assert [spelling.name for spelling in harp.spellings(30)] == ["G♭1"]
    assert [spelling.name for spelling in harp.spellings(99)] == ["D♯7"]


def test_low_strings_ring_longer() -> None:
    # Volpé Bligh, item 5; Rimsky-Korsakov, Principles, ch. I. The orders of magnitude are from memory:
    # bottom wires 10 to 20 s, about C3 5 to 8, C4 3 to 5, C5 2 to 3, C6 about 1, the top octave well under
    # 1.
    ring = Figures.builtin().ringing.ring
    times = [ring(midi) for midi in range(128)]
    assert times == sorted(times, reverse=True)
    for midi, low, high in [
        (24, 10, 20),
        (48, 5, 8),
        (60, 3, 5),
        (72, 2, 3),
        (84, 0.8, 1.2),
        (100, 0.1, 0.8),
    ]:
        assert low <= ring(midi) / 1e6 <= high


def test_ring_times_lie_on_straight_lines() -> None:
    ringing = Ringing(((60, 4_000_000), (72, 1_000_000)))
    assert ringing.ring(66) == 2_500_000
    assert ringing.ring(20) == 4_000_000
    assert ringing.ring(127) == 1_000_000
    assert Ringing(None).ring(60) == NEVER


def test_loud_times_lie_on_straight_lines_down_to_none() -> None:
    ringing = Ringing(None, ((24, 1_000_000), (44, 0)))
    assert [ringing.loud(midi) for midi in (0, 24, 34, 44, 90)] == [1_000_000, 1_000_000, 500_000, 0, 0]
    assert Ringing(None).loud(24) == 0


def test_instruments_that_cannot_be() -> None:
    c1, c2, c3 = (HarpString.parse(name) for name in ("C1", "C2", "C3"))
    with pytest.raises(LivepedalError, match="above its highest"):
        Instrument("x", c2, c1)
    with pytest.raises(LivepedalError, match="no string C3"):
        Instrument("x", c1, c2, (Spelling(c3, Position.FLAT, fixed=True),))
    with pytest.raises(LivepedalError, match="C1 twice"):
        Instrument("x", c1, c2, (Spelling(c1, Position.FLAT, fixed=True),) * 2)


def test_spellings_end_where_midi_ends() -> None:
    # MIDI 1.0: note numbers are 0 to 127. C♭-1 would be -1, G♯9 would be 128.
    harp = Instrument("all", HarpString(Pedal.C, -1), HarpString(Pedal.G, 9))
    assert [spelling.name for spelling in harp.spellings(0)] == ["C♮-1"]
    assert [spelling.name for spelling in harp.spellings(127)] == ["G♮9"]
    assert harp.spellings(-1) == harp.spellings(128) == ()


# -- A file of the user's own ------------------------------------------------------------------------------


def test_an_override_changes_that_figure_and_nothing_else(write: Write) -> None:
    path = write("[players.working]\nflick = 0.2\n")
    figures = own_figures(path)
    assert [player.name for player in figures.players] == ["relaxed", "working", "virtuoso"]
    working = Figures.builtin().player("working")
    assert figures.player("working") == replace(working, flick=200_000)
    assert figures.player("working").two_notch_flick == 260_000
    assert figures.player("relaxed") == Figures.builtin().player("relaxed")
    assert figures.instruments == Figures.builtin().instruments
    assert set(figures.stated) - set(Figures.builtin().stated) == {("players.working.flick", Decimal("0.2"))}


def test_an_added_player_stands_in_the_working_players_place(write: Write) -> None:
    figures = own_figures(
        write('[players.me]\nbased_on = "working"\ncycle = 0.4\ntwo_at_once = true\n'
              "source = 'a stop watch'\n"
              '[players.virtuoso]\ntwo_at_once = true\n')
    )  # fmt: skip
    me = figures.player("me")
    assert (me.flick, me.cycle, me.two_at_once) == (150_000, 400_000, True)
    assert [player.name for player in figures.scale("me")] == ["relaxed", "me", "virtuoso"]
    for name in ("relaxed", "working", "virtuoso"):
        assert [player.name for player in figures.scale(name)] == ["relaxed", "working", "virtuoso"]
    assert [player.name for player in figures.players] == ["relaxed", "working", "virtuoso", "me"]


def test_instruments_and_ring_and_windows(write: Write) -> None:
    figures = own_figures(
        write("""
            [instruments.47]
            fixed = { C1 = "flat", D1 = "n" }
            [instruments.48]
            lowest = "C1"
            highest = "A7"
            [ring]
            C3 = 6
            C5 = 1.5
            [window]
            attack = 0.05
        """)
    )
    assert [spelling.name for spelling in figures.instrument("47").fixed] == ["C♭1", "D♮1"]
    assert [spelling.name for spelling in figures.instrument("47").spellings(23)] == ["C♭1"]
    # A 48th string, A7: Wikipedia "Pedal harp".
    assert len(figures.instrument("48").strings) == 48
    assert figures.ringing == Ringing(
        ((48, 6_000_000), (72, 1_500_000)), Figures.builtin().ringing.loud_points
    )
    assert figures.window == replace(Figures.builtin().window, attack=50_000)
    assert dict(figures.stated)["instruments.47.fixed.C1"] == "flat"


def test_strings_that_never_die_away(write: Write) -> None:
    figures = own_figures(write("[ring]\nnever = true\n"))
    assert figures.ringing.ring(100) == NEVER
    figures = own_figures(write("[loud]\nC1 = 1.0\nA2 = 0\n"))
    assert [figures.ringing.loud(midi) for midi in (24, 45, 46)] == [1_000_000, 0, 0]
    assert own_figures(write("[loud]\nnever = true\n")).ringing.loud(24) == 0


def test_command_line_over_user_file_over_built_in(write: Write, monkeypatch: pytest.MonkeyPatch) -> None:
    own = write("[players.relaxed]\nflick = 0.4\ncycle = 1.5\n", "own.toml")
    given_ = write("[players.relaxed]\ncycle = 2\n", "given.toml")
    monkeypatch.setattr(figures_module, "user_figures_file", lambda: own)
    both = load_figures(given_).player("relaxed")
    assert (both.flick, both.cycle, both.settle) == (400_000, 2_000_000, 20_000)
    assert load_figures().player("relaxed").cycle == 1_500_000
    assert own_figures(given_).player("relaxed").flick == 300_000
    monkeypatch.setattr(figures_module, "user_figures_file", lambda: own.with_name("none.toml"))
    assert load_figures() == Figures.builtin()


def test_where_the_users_file_is() -> None:
    assert user_figures_file().name == "figures.toml"
    assert user_figures_file().parent.name == "livepedal"


def test_a_file_with_a_byte_order_mark(write: Write) -> None:
    assert (
        own_figures(write(b"\xef\xbb\xbf[players.relaxed]\nflick = 0.31\n")).player("relaxed").flick
        == 310_000
    )


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("[players.relaxed]\noverlap = 0", "players.relaxed.overlap"),
        ("[players.relaxed]\ncycle = 60", "players.relaxed.cycle"),
        ("[players.relaxed]\ntwo_notches = 1\nflick = 0.45", "players.relaxed.two_notches"),
        ("[players.virtuoso]\nfingers = 5", "players.virtuoso.fingers"),  # the little finger too
        ("[glissando]\nnotes = 3", "glissando.notes"),
        ("[glissando]\nnotes = 47", "glissando.notes"),  # every string of the largest harp
        ("[glissando]\nleast_step = 0.12", "glissando.least_step"),
        ("[glissando]\nleast_step = 0", "glissando.least_step"),
        ("[window]\nattack = 0", "window.attack"),
    ],
)
def test_the_bounds_themselves_are_allowed(write: Write, text: str, key: str) -> None:
    assert str(dict(own_figures(write(text)).stated)[key]) == text.partition(f"{key.split('.')[-1]} = ")[2].split()[0]


def test_the_built_in_file_is_itself_a_valid_override() -> None:
    path = Path(figures_module.__file__).with_name("figures.toml")
    loaded = own_figures(path)
    assert loaded.players == Figures.builtin().players
    assert loaded.instruments == Figures.builtin().instruments
    assert sorted(loaded.stated, key=str) == sorted(Figures.builtin().stated, key=str)


WRONG = [
    # A wrong key
    ("[players.working]\nflik = 0.1", "players.working.flik", "did you mean flick?"),
    ("[player.working]\nflick = 0.1", "player", "did you mean players?"),
    ("[window]\nattacks = 0.1", "window.attacks", "did you mean attack?"),
    ("[players.working]\nreach = 11", "players.working.reach", "reach stands in [hands]."),
    ("[instruments.47]\nlow = 'C1'", "instruments.47.low", "did you mean lowest?"),
    ("[players.workin]\nflick = 0.1", "players.workin", 'did you mean "working"'),
    ("[players.me]\nflick = 0.12", "players.me", "based_on"),
    ("[players.me]\nbased_on = 'nobody'", "players.me.based_on", "relaxed, working, virtuoso"),
    ("[players.me]\nbased_on = 'me'", "players.me.based_on", "does not name an earlier player"),
    ("[players.me]\nbased_on = []", "players.me.based_on", "does not name an earlier player"),
    ("[players.'a.b']\nbased_on = 'working'", "players.'a.b'", "is not a valid name"),
    ("[players.working.source]\nflik = 'x'", "players.working.source.flik", "did you mean flick?"),
    ("zzz = 1", "zzz", "players, instruments, ring, loud, window"),
    # A wrong type
    ("[players.working]\nflick = '0.1'", "players.working.flick", 'not "0.1"'),
    ("[players.working]\nflick = true", "players.working.flick", "a number of seconds"),
    ("[players.working]\ntwo_at_once = 1", "players.working.two_at_once", "true or false, not 1"),
    ("[players.working]\ncycle = [1]", "players.working.cycle", "not a list"),
    ("[players.working]\ncycle = 1979-05-27", "players.working.cycle", "not 1979-05-27"),
    ("[players]\nworking = 3", "players.working", "must be a table, not 3"),
    ("players = 3", "players", "must be a table, not 3"),
    ("[instruments.47]\nfixed = ['C1']", "instruments.47.fixed", "must be a table"),
    ("[instruments.47]\nlowest = 1", "instruments.47.lowest", "the name of a string"),
    ("[players.working]\nsource = 4", "players.working.source", "must be a table"),
    ("[players.working.source]\nflick = 4", "players.working.source.flick", "text in quotes"),
    # An impossible figure
    ("[players.working]\nflick = -0.1", "players.working.flick", "more than 0 s"),
    ("[players.working]\nflick = 0", "players.working.flick", "more than 0 s"),
    ("[players.working]\nflick = 1e-9", "players.working.flick", "whole microseconds"),
    ("[players.working]\nflick = nan", "players.working.flick", "not a figure"),
    ("[players.working]\ncycle = inf", "players.working.cycle", "not a figure"),
    ("[players.working]\ncycle = -1", "players.working.cycle", "at least 0 s"),
    ("[players.working]\ncycle = 1e999999", "players.working.cycle", "at most 60 s"),
    ("[players.working]\ntwo_notches = 0.9", "players.working.two_notches", "at least 1"),
    ("[window]\npassage_rest = 0", "window.passage_rest", "more than 0 s"),
    ("[window]\nattack = 35", "window.attack", "at most 1 s"),
    ("[hands]\nreach = 21", "hands.reach", "at most 20"),
    *(
        (f"[players.relaxed]\n{key} = 0", f"players.relaxed.{key}", "at least 1")
        for key in ("inner_reach", "rolled_reach")
    ),
    ("[players.relaxed]\nfingers = 0", "players.relaxed.fingers", "at least 1"),
    ("[glissando]\nnotes = 2", "glissando.notes", "at least 3"),
    ("[glissando]\nnotes = 48", "glissando.notes", "at most 47"),
    ("[glissando]\nleast_step = 0.121", "glissando.step", "below glissando.least_step (0.121 s)"),
    ("[glissando]\nstep = 0.007", "glissando.step", "below glissando.least_step (0.008 s)"),
    ("[smear]\nclear = 0.2", "smear.clear", "below smear.faint"),
    ("[ring]\nC4 = 0", "ring.C4", "more than 0 s"),
    ("[ring]\nC4 = 2\nC5 = 3", "ring.C5", "higher strings die away sooner"),
    ("[ring]\nH4 = 2", "ring.H4", "not the name of a string"),
    ("[ring]\nc4 = 2\nC4 = 2", "ring.C4", "given twice"),
    ("[ring]\nnever = true\nC4 = 2", "ring.never", "keep one"),
    ("[ring]\n", "ring", "at least one"),
    ("[loud]\nC2 = 1\nC3 = 2", "loud.C3", "make it shorter"),
    ("[loud]\nC2 = -1", "loud.C2", "at least 0 s"),
    ("[instruments.47]\nlowest = 'H1'", "instruments.47.lowest", "not the name of a string"),
    ("[instruments.47]\nfixed = { H1 = 'flat' }", "instruments.47.fixed.H1", "not the name of a string"),
    (
        "[instruments.47]\nfixed = { C1 = 'double flat' }",
        "instruments.47.fixed.C1",
        '"flat", "natural" or "sharp"',
    ),
    ("[instruments.47]\nfixed = { A7 = 'flat' }", "instruments.47", "no string A7"),
    ("[instruments.47]\nlowest = 'G7'\nhighest = 'C1'", "instruments.47", "above its highest"),
    ("[instruments.small]\nlowest = 'C2'", "instruments.small.highest", "is missing"),
    # Players out of order
    ("[players.working]\nflick = 0.5", "players.working.flick", "less able than relaxed"),
    ("[players.relaxed]\ncycle = 0.1", "players.working.cycle", "less able than relaxed"),
    ("[players.working]\ntwo_at_once = true", "players.virtuoso.two_at_once", "less able than working"),
    ("[players.virtuoso]\ntwo_notches = 3", "players.virtuoso.two_notches", "two notches slower"),
    ("[players.me]\nbased_on = 'working'\ncycle = 1.2", "players.me.cycle", "less able than relaxed"),
    ("[players.me]\nbased_on = 'working'\ncycle = 0.2", "players.virtuoso.cycle", "less able than me"),
]


@pytest.mark.parametrize(("text", "key", "says"), WRONG)
def test_a_wrong_file_is_told_the_key_and_the_way_out(write: Write, text: str, key: str, says: str) -> None:
    path = write(text)
    with pytest.raises(LivepedalError) as caught:
        own_figures(path)
    message = str(caught.value)
    assert message.startswith(f"{key} in {path}")
    assert says in message
    assert "\n" not in message


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"[players.working\nflick = 0.1", "not valid TOML"),
        (b"[players.working]\nflick = 0.1\nflick = 0.2\n[ring]\n", "line 3"),
        (b"[players.working]\nflick = \xff", "not UTF-8"),
        (b"a = " + b"[" * 100_000, "not valid TOML"),
        (b"a = " + b"9" * 10_000, "not valid TOML"),
        (b"a = 1e" + b"9" * 40, "not valid TOML"),
    ],
)  # fmt: skip
def test_a_file_that_is_no_toml(write: Write, content: bytes, says: str) -> None:
    path = write(content)
    with pytest.raises(LivepedalError) as caught:
        own_figures(path)
    assert says in str(caught.value)
    assert str(path) in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_file_that_cannot_be_read(tmp_path: Path) -> None:
    for path in (tmp_path / "missing.toml", tmp_path, tmp_path / "nul\0.toml"):
        with pytest.raises(LivepedalError, match="cannot be read"):
            own_figures(path)


@given(
    st.text(alphabet="[]{}=.\"'#\n players.workngflicty_0123456789-+e", max_size=60)
    | st.lists(
        st.tuples(
            st.sampled_from(
                ["[players.working]", "[players.me]", "[ring]", "[window]", "[instruments.47]", "x = 1"]
            ),
            st.sampled_from(
                ["flick", "cycle", "C4", "attack", "fixed", "based_on", "source", "lowest", "never"]
            ),
            st.sampled_from(
                ["1", "0", "-1", "nan", "'C4'", "true", "{}", "[]", "{C1 = 'flat'}", "'working'", "9e99"]
            ),
        ),
        max_size=4,
    ).map(lambda lines: "\n".join(f"{table}\n{key} = {value}" for table, key, value in lines))
)
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_whatever_the_file_holds_only_the_clear_error_comes_out(write: Write, text: str) -> None:
    try:
        figures = own_figures(write(text))
    except LivepedalError as error:
        assert "mine.toml" in str(error)
    else:
        assert len(figures.players) >= 3


@pytest.mark.parametrize(
    ("ask", "says"),
    [
        (lambda f: f.player("workin"), "did you mean working?"),
        (lambda f: f.player("x"), "choose from relaxed, working, virtuoso"),
        (lambda f: f.instrument("48"), "choose from 47, 46, 44, 40"),
        (lambda f: f.scale("me"), "There is no player 'me'"),
    ],
)
def test_names_that_are_not_there(ask: Callable[[Figures], object], says: str) -> None:
    with pytest.raises(LivepedalError) as caught:
        ask(Figures.builtin())
    assert says in str(caught.value)
