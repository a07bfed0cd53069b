"""Figures: the numbers that judging stands on, as data, each with its source beside it.

The built-in ones are figures.toml in this package. A file of the user's own has the same form and holds only
what it changes; three layers lie on one another: built-in, then figures.toml in the user's configuration
folder, then the file named with `--figures`. A file becomes a row of `FigureRecord`s, one for each number;
layers are merged record by record, and only the merged row is made into players and instruments, so an
override and its source go together.

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
from difflib import get_close_matches
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any, TypeVar

from livepedal.errors import LivepedalError
from livepedal.harp.instruments import Instrument
from livepedal.harp.layers import (
    FigureRecord,
    Records,
    builtin_records,
    error,
    listed,
    microseconds,
    names,
    overlay,
    printable,
    read,
    shown,
)
from livepedal.harp.pedals import Position
from livepedal.harp.players import Player
from livepedal.harp.ringing import Points, Ringing
from livepedal.harp.specs import FigureSpec, ValueKind, specs_of
from livepedal.harp.spelling import Spelling
from livepedal.harp.strings import HarpString
from livepedal.harp.tables import (
    TABLES,
    AnswerFigures,
    GlissandoFigures,
    HandsFigures,
    LoadFigures,
    ShareFigures,
    SmearFigures,
    TempoFigures,
)

SCALE = ("relaxed", "working", "virtuoso")
"""The built-in players, slowest first: the three of the verdicts."""

_N = TypeVar("_N", Player, Instrument)


@dataclass(frozen=True, slots=True)
class Figures:
    """All figures of one run.

    Attributes:
        players: the scale's three, slowest first, then those that files add.
        instruments: by name, the largest first, then added ones.
        ringing: how long strings sound.
        attack_window, passage_rest, retune: integer microseconds.
        hands, smear, glissando, loads, tempo, sharing, answer: see there.
        records: every figure with its unit and source, in the order of figures.toml.
    """

    players: tuple[Player, ...]
    instruments: tuple[Instrument, ...]
    ringing: Ringing
    attack_window: int
    passage_rest: int
    retune: int
    hands: HandsFigures
    smear: SmearFigures
    glissando: GlissandoFigures
    loads: LoadFigures
    tempo: TempoFigures
    sharing: ShareFigures
    answer: AnswerFigures
    records: tuple[FigureRecord, ...]

    @classmethod
    @cache
    def builtin(cls) -> Figures:
        """The figures that come with livepedal."""
        return _build(builtin_records(), "figures.toml")

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

    def scale(self, name: str = "working") -> tuple[Player, Player, Player]:
        """The three players that verdicts compare when the player of this name is chosen.

        For relaxed, working and virtuoso it is these three; an added player stands in the working player's place.

        Raises:
            LivepedalError: where there is no such player.
        """
        chosen = self.player(name)
        relaxed, working, virtuoso = self.players[: len(SCALE)]
        return (relaxed, working if name in SCALE else chosen, virtuoso)


def user_figures_file() -> Path:
    """Where a user's own figures are looked for: figures.toml in livepedal's configuration folder."""
    # Imported here because only the command line needs it, and starting quickly matters there most.
    from platformdirs import user_config_path

    return user_config_path("livepedal", appauthor=False) / "figures.toml"


_ASK = Path()


def load_figures(path: Path | None = None, *, user_file: Path | None = _ASK) -> Figures:
    """The figures of a run: built-in, then the user's own file if there is one, then the file at `path` if given.

    Args:
        path: a further file, whose figures override the others (None: without one).
        user_file: the user's own file (None: without it); by default the one in the configuration folder.

    Raises:
        LivepedalError: a file cannot be read, or something in it is unknown, of the wrong type or impossible. It names
            the file and the key.
    """
    if user_file is _ASK:
        user_file = user_figures_file()
        # Path.exists would raise where a folder may not be entered; such a file is as good as none.
        if not os.path.exists(user_file):
            user_file = None
    if path is None and user_file is None:
        return Figures.builtin()
    records = builtin_records()
    figures = Figures.builtin()
    for file in (user_file, path):
        if file is not None:
            name = printable(str(file))
            records = overlay(records, read(file, name), name)
            figures = _build(records, name)
    return figures


# -- From records to players, instruments and tables -------------------------------------------------------


def _build(records: Records, file: str) -> Figures:
    players = tuple(_player(name, records) for name in names(records, "players"))
    scale, added = players[: len(SCALE)], players[len(SCALE) :]
    for slower, faster in [
        *pairwise(scale),
        *((scale[0], me) for me in added),
        *((me, scale[-1]) for me in added),
    ]:
        _check_abler(records, slower.name, faster.name, file)
    instruments = tuple(_instrument(name, records, file) for name in names(records, "instruments"))
    window, hands, smear, glissando, load, tempo, share, answer = (
        _made(table, records, f"{name}.") for name, table in TABLES.items()
    )
    _check_order(records, file, "smear.clear", "smear.faint")
    _check_order(records, file, "glissando.step", "glissando.least_step")
    return Figures(
        players=players,
        instruments=instruments,
        ringing=_ringing(records),
        attack_window=window.attack,
        passage_rest=window.passage_rest,
        retune=window.retune,
        hands=hands,
        smear=smear,
        glissando=glissando,
        loads=load,
        tempo=tempo,
        sharing=share,
        answer=answer,
        records=tuple(records.values()),
    )


def _check_order(records: Records, file: str, larger: str, smaller: str) -> None:
    high, low = records[larger], records[smaller]
    if _decimal(high) < _decimal(low):
        unit = "" if high.unit == "times" else f" {high.unit}"
        raise error(
            file,
            larger,
            f"({high.value}{unit}) is below {smaller} ({low.value}{unit}); change one of the two figures",
        )


def _made(table: type[Any], records: Records, prefix: str, **more: object) -> Any:
    """A table of figures, each as the model uses it: seconds are whole microseconds."""
    values = {name: _used(records[prefix + spec.key], spec) for name, spec in specs_of(table).items()}
    return table(**values | more)


def _used(record: FigureRecord, spec: FigureSpec) -> object:
    value = record.value
    match spec.kind:
        case ValueKind.SECONDS:
            return microseconds(_decimal(record))
        case ValueKind.STRINGS | ValueKind.COUNT:
            return int(_decimal(record))
        case ValueKind.STRING:
            return HarpString.parse(str(value))
    return value


def _check_abler(records: Records, slower: str, faster: str, file: str) -> None:
    for spec in specs_of(Player).values():
        low, high = (records[f"players.{name}.{spec.key}"].value for name in (slower, faster))
        if isinstance(low, str) or isinstance(high, str):
            continue
        # two_notches is a factor of the flick, so what is compared is the time of the movement.
        if spec.key == "two_notches":
            continue
        if spec.abler * (high - low) < 0:
            wrong = f"players.{faster}.{spec.key}"
            raise error(
                file,
                wrong,
                f"({_value_text(high, spec)}) makes {faster} less able than {slower}"
                f" ({_value_text(low, spec)}), but"
                f" verdicts take {faster} for the abler one; change one of the two figures",
            )
    slow, fast = _player(slower, records), _player(faster, records)
    if fast.two_notch_flick > slow.two_notch_flick:
        raise error(
            file,
            f"players.{faster}.two_notches",
            f"makes a movement over two notches slower for {faster} ({fast.two_notch_flick / 1e6} s) than for"
            f" {slower} ({slow.two_notch_flick / 1e6} s), but {faster} should be the abler player;"
            " make it smaller",
        )


def _value_text(value: Decimal | bool, spec: FigureSpec) -> str:
    return shown(value) if isinstance(value, bool) else f"{value} {spec.kind.unit}".strip()


def _player(name: str, records: Records) -> Player:
    prefix = f"players.{name}."
    flick, two_notches = (_decimal(records[prefix + key]) for key in ("flick", "two_notches"))
    made: Player = _made(
        Player, records, prefix, name=name, two_notch_flick=microseconds(flick * two_notches)
    )
    return made


def _instrument(name: str, records: Records, file: str) -> Instrument:
    prefix = f"instruments.{name}."
    fixed = sorted(
        (HarpString.parse(key.removeprefix(f"{prefix}fixed.")), Position.parse(str(record.value)))
        for key, record in records.items()
        if key.startswith(f"{prefix}fixed.")
    )
    try:
        return Instrument(
            name=name,
            lowest=HarpString.parse(str(records[prefix + "lowest"].value)),
            highest=HarpString.parse(str(records[prefix + "highest"].value)),
            fixed=tuple(Spelling(string, position, fixed=True) for string, position in fixed),
        )
    except LivepedalError as error:
        raise LivepedalError(f"instruments.{name} in {file}: {error}") from None


def _ringing(records: Records) -> Ringing:
    return Ringing(_points(records, "ring"), _points(records, "loud"))


def _points(records: Records, name: str) -> Points | None:
    """MIDI numbers and times (µs) of [ring] or [loud]; None where it says never."""
    if f"{name}.never" in records:
        return None
    return tuple(
        (HarpString.parse(key.removeprefix(f"{name}.")).natural, _us(record))
        for key, record in records.items()
        if key.startswith(f"{name}.")
    )


def _decimal(record: FigureRecord) -> Decimal:
    assert isinstance(record.value, Decimal), record
    return record.value


def _us(record: FigureRecord) -> int:
    return microseconds(_decimal(record))


def _named(values: tuple[_N, ...], name: str, what: str) -> _N:
    for value in values:
        if value.name == name:
            return value
    near = get_close_matches(name, [value.name for value in values], n=1)
    hint = f"did you mean {near[0]}?" if near else f"choose from {listed(value.name for value in values)}."
    raise LivepedalError(f"There is no {what} {name!r}; {hint}")
