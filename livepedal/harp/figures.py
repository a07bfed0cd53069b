"""Figures: the numbers that judging stands on, as data, each with its source beside it.

The built-in ones are figures.toml in this package. A file of the user's own has the same form and holds only
what it changes; three layers lie on one another: built-in, then figures.toml in the user's configuration
folder, then the file named with `--figures`. Only the merged layer is made into players, harps and tables.

*The scale.* Verdicts compare three players: relaxed, working, virtuoso. A player whom a file adds stands in
the working player's place when chosen: easy is still what the relaxed one manages, playable is what the added
one does, virtuoso what only the virtuoso does. Verdicts assume that a faster player can do all that a slower
one can, so each player of a scale must be at least as able as the one before, figure by figure, or the file
is refused. Figures of an added player come from the one named in `based_on`.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import TypeVar

from livepedal.defaults import PLAYER, PLAYERS
from livepedal.errors import LivepedalError, nearest
from livepedal.harp import layers
from livepedal.harp.instruments import Instrument
from livepedal.harp.layers import Layer, made, names
from livepedal.harp.pedals import Position
from livepedal.harp.players import Player
from livepedal.harp.ringing import Points, Ringing
from livepedal.harp.specs import Value, error, microseconds, printable, specs_of
from livepedal.harp.strings import HarpString, Spelling
from livepedal.harp.tables import (
    TABLES,
    AnswerFigures,
    GlissandoFigures,
    HandsFigures,
    LoadFigures,
    ShareFigures,
    SmearFigures,
    TempoFigures,
    WindowFigures,
)

_N = TypeVar("_N", Player, Instrument)


@dataclass(frozen=True, slots=True)
class Figures:
    """All figures of one run.

    Attributes:
        players: the scale's three, slowest first, then those that files add.
        instruments: by name, the largest first, then added ones.
        ringing: how long strings sound.
        stated: every figure by its key, such as "players.working.flick", with its value as files state it.
        window, hands, smear, glissando, load, tempo, share, answer: the tables of these names.
    """

    players: tuple[Player, ...]
    instruments: tuple[Instrument, ...]
    ringing: Ringing
    stated: tuple[tuple[str, Value], ...]
    window: WindowFigures
    hands: HandsFigures
    smear: SmearFigures
    glissando: GlissandoFigures
    load: LoadFigures
    tempo: TempoFigures
    share: ShareFigures
    answer: AnswerFigures

    @classmethod
    @cache
    def builtin(cls) -> Figures:
        """The figures that come with livepedal."""
        return _build(layers.builtin(), "figures.toml")

    @property
    def lowest_note(self) -> int:
        """The lowest note (MIDI number) of the largest harp: C♭1 (23) unless somebody's own goes lower.

        What lies below is no music for any harp: the keys that switch the articulations of a sample library lie there
        (common practice, no source). Such notes are counted, not judged.
        """
        return min(harp.lowest.natural for harp in self.instruments) - 1

    def player(self, name: str) -> Player:
        """The player of this name.

        Raises:
            LivepedalError: where there is none.
        """
        return _named(self.players, name, "player")

    def instrument(self, name: str) -> Instrument:
        """The harp of this name, such as "47".

        Raises:
            LivepedalError: where there is none.
        """
        return _named(self.instruments, name, "harp")

    def scale(self, name: str = PLAYER) -> tuple[Player, Player, Player]:
        """The three players that verdicts compare when the player of this name is chosen.

        For relaxed, working and virtuoso it is these three; an added player stands in the working player's place.

        Raises:
            LivepedalError: where there is no such player.
        """
        chosen = self.player(name)
        relaxed, working, virtuoso = self.players[: len(PLAYERS)]
        return (relaxed, working if name in PLAYERS else chosen, virtuoso)


def user_figures_file() -> Path:
    """Where a user's own figures are looked for: figures.toml in livepedal's configuration folder."""
    # Imported here because only the command line needs it, and starting quickly matters there most.
    from platformdirs import user_config_path

    return user_config_path("livepedal", appauthor=False) / "figures.toml"


def load_figures(path: Path | None = None) -> Figures:
    """The figures of a run: built-in, then the user's own file if there is one, then the file at `path` if given.

    Raises:
        LivepedalError: a file cannot be read, or something in it is unknown, of the wrong type or impossible. It names
            the file and the key.
    """
    layer, figures = layers.builtin(), Figures.builtin()
    for file in (user_figures_file(), path):
        # Path.exists would raise where a folder may not be entered; such a file of the user's is as good as none.
        if file is not None and (file is path or os.path.exists(file)):
            name = printable(str(file))
            layer = layers.overlay(layer, layers.read(file, f"The figures file {name}"), name)
            figures = _build(layer, name)
    return figures


# -- From layers to players, instruments and tables --------------------------------------------------------


def _build(layer: Layer, file: str) -> Figures:
    players: tuple[Player, ...] = tuple(
        made(Player, layer, f"players.{name}", file, name=name) for name in names(layer, "players")
    )
    scale, added = players[: len(PLAYERS)], players[len(PLAYERS) :]
    for slower, faster in (
        *pairwise(scale),
        *((scale[0], player) for player in added),
        *((player, scale[-1]) for player in added),
    ):
        _check_abler(layer, slower, faster, file)
    figures = Figures(
        players=players,
        instruments=tuple(_instrument(name, layer, file) for name in names(layer, "instruments")),
        ringing=Ringing(_points(layer, "ring"), _points(layer, "loud")),
        stated=tuple(
            (f"{path}.{key}", value) for path, table in layer.items() for key, value in table.items()
        ),
        **{name: made(table, layer, name, file) for name, table in TABLES.items()},
    )
    _check_order(layer, file, "smear", "clear", "faint")
    _check_order(layer, file, "glissando", "step", "least_step")
    return figures


def _check_order(layer: Layer, file: str, table: str, larger: str, smaller: str) -> None:
    high, low = layer[table][larger], layer[table][smaller]
    if Decimal(high) < Decimal(low):
        spec = specs_of(TABLES[table])[larger]
        raise error(
            file,
            f"{table}.{larger}",
            f"({spec.text(high)}) is below {table}.{smaller} ({spec.text(low)}); change one of the two figures",
        )


def _check_abler(layer: Layer, slower: Player, faster: Player, file: str) -> None:
    for key, spec in specs_of(Player).items():
        low, high = (layer[f"players.{player.name}"][key] for player in (slower, faster))
        if spec.abler is not None and spec.abler.value * (Decimal(high) - Decimal(low)) < 0:
            raise error(
                file,
                f"players.{faster.name}.{key}",
                f"({spec.text(high)}) makes {faster.name} less able than {slower.name}"
                f" ({spec.text(low)}), but"
                f" verdicts take {faster.name} for the abler one; change one of the two figures",
            )
    if faster.two_notch_flick > slower.two_notch_flick:
        raise error(
            file,
            f"players.{faster.name}.two_notches",
            f"makes a movement over two notches slower for {faster.name} ({faster.two_notch_flick / 1e6} s) than for"
            f" {slower.name} ({slower.two_notch_flick / 1e6} s), but {faster.name} should be the abler player;"
            " make it smaller",
        )


def _instrument(name: str, layer: Layer, file: str) -> Instrument:
    path = f"instruments.{name}"
    fixed = tuple(
        Spelling(HarpString.parse(string), Position.parse(str(position)), fixed=True)
        for string, position in layer.get(f"{path}.fixed", {}).items()
    )
    harp: Instrument = made(Instrument, layer, path, file, name=name, fixed=fixed)
    return harp


def _points(layer: Layer, name: str) -> Points | None:
    """MIDI numbers and times (µs) of [ring] or [loud]; None where it says never."""
    if "never" in layer[name]:
        return None
    return tuple(
        (HarpString.parse(string).natural, microseconds(Decimal(time)))
        for string, time in layer[name].items()
    )


def _named(values: tuple[_N, ...], name: str, what: str) -> _N:
    for value in values:
        if value.name == name:
            return value
    known = [value.name for value in values]
    hint = nearest(name, known, f"; choose from {', '.join(known)}.")
    raise LivepedalError(f"There is no {what} {name!r}{hint}")
