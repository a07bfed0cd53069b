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
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from difflib import get_close_matches
from enum import Enum
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import TypeAlias, TypeVar

from livepedal.errors import LivepedalError
from livepedal.harp.instruments import Instrument
from livepedal.harp.pedals import Position
from livepedal.harp.players import Player
from livepedal.harp.ringing import Ringing
from livepedal.harp.spelling import Spelling
from livepedal.harp.strings import HarpString

SCALE = ("relaxed", "working", "virtuoso")
"""The built-in players, slowest first: the three of the verdicts."""

Value: TypeAlias = Decimal | bool | str
_N = TypeVar("_N", Player, Instrument)


@dataclass(frozen=True, slots=True)
class FigureRecord:
    """One figure as the docs list it.

    key: where it stands, "players.working.flick"; unit: "s", "times", "strings", or "" for counts, words and flags;
    source: where the figure comes from, after a colon, and before it how sure it is: read, judgement or memory; of a
    file of the user's that does not say so, where it was set.
    """

    key: str
    value: Value
    unit: str
    source: str


class Kind(Enum):
    """What a figure in a file may be."""

    SECONDS = "a number of seconds"
    FACTOR = "a number"
    STRINGS = "a whole number of strings"
    COUNT = "a whole number"
    FLAG = "true or false"
    STRING = 'the name of a string, such as "C1"'
    POSITION = '"flat", "natural" or "sharp"'

    @property
    def unit(self) -> str:
        """The unit as the docs print it."""
        return {Kind.SECONDS: "s", Kind.FACTOR: "times", Kind.STRINGS: "strings"}.get(self, "")


@dataclass(frozen=True, slots=True)
class FigureSpec:
    """What is known of one key.

    least: the smallest value that is possible (`above`: and itself not possible); most: the largest that
    makes sense.  abler: 1 where a larger figure makes a player abler, -1 where a smaller one does, 0 where
    neither.
    """

    key: str
    kind: Kind
    least: Decimal = Decimal(0)
    above: bool = False
    most: Decimal = Decimal(60)
    abler: int = 0


# To give players a figure more: a line here, a field in Player, a line in `_player`, and its
# value with its source for the relaxed player in figures.toml, on which the other two are based; where more of
# it makes abler, or it is no matter of single attacks, a word in model/scale.py too.
PLAYER_SPECS = (
    FigureSpec("flick", Kind.SECONDS, above=True, abler=-1),
    FigureSpec("two_notches", Kind.FACTOR, least=Decimal(1), most=Decimal(10), abler=-1),
    FigureSpec("cycle", Kind.SECONDS, abler=-1),
    FigureSpec("settle", Kind.SECONDS, abler=-1),
    FigureSpec("overlap", Kind.SECONDS, abler=1),
    FigureSpec("grip", Kind.SECONDS, abler=-1),
    FigureSpec("two_at_once", Kind.FLAG, abler=1),
    FigureSpec("reach_across", Kind.FLAG, abler=1),
    FigureSpec("reach", Kind.STRINGS, least=Decimal(1), most=Decimal(20), abler=1),
    FigureSpec("inner_reach", Kind.STRINGS, least=Decimal(1), most=Decimal(20), abler=1),
    FigureSpec("rolled_reach", Kind.STRINGS, least=Decimal(1), most=Decimal(20), abler=1),
    FigureSpec("turn_reach", Kind.STRINGS, least=Decimal(1), most=Decimal(20), abler=1),
    FigureSpec("fingers", Kind.COUNT, least=Decimal(1), most=Decimal(5), abler=1),
    FigureSpec("place", Kind.SECONDS, abler=-1),
    FigureSpec("place_finger", Kind.SECONDS, abler=-1),
    FigureSpec("leap", Kind.SECONDS, abler=-1),
    FigureSpec("turn", Kind.SECONDS, abler=-1),
    FigureSpec("roll", Kind.SECONDS, abler=1),
    FigureSpec("restrike", Kind.SECONDS, abler=-1),
    FigureSpec("repeat", Kind.SECONDS, abler=-1),
    FigureSpec("sustained", Kind.FACTOR, above=True, abler=1),
)
INSTRUMENT_SPECS = (FigureSpec("lowest", Kind.STRING), FigureSpec("highest", Kind.STRING))
WINDOW_SPECS = (
    FigureSpec("attack", Kind.SECONDS, most=Decimal(1)),
    FigureSpec("passage_rest", Kind.SECONDS, above=True, most=Decimal(3600)),
    FigureSpec("retune", Kind.SECONDS, above=True, most=Decimal(3600)),
)
# What is the same for every player: [hands], [smear], [glissando], [load], [share].
HANDS_SPECS = (FigureSpec("right_low", Kind.STRING),)
SMEAR_SPECS = (
    FigureSpec("faint", Kind.FACTOR, most=Decimal(1)),
    FigureSpec("clear", Kind.FACTOR, most=Decimal(1)),
)
GLISSANDO_SPECS = (
    FigureSpec("step", Kind.SECONDS, above=True, most=Decimal(1)),
    FigureSpec("least_step", Kind.SECONDS, most=Decimal(1)),
    FigureSpec("notes", Kind.COUNT, least=Decimal(3), most=Decimal(47)),
    FigureSpec("remark_step", Kind.SECONDS, above=True, most=Decimal(1)),
    FigureSpec("remark_notes", Kind.COUNT, least=Decimal(3), most=Decimal(47)),
)
LOAD_SPECS = (FigureSpec("span", Kind.SECONDS, above=True),)
SHARE_SPECS = (FigureSpec("seam", Kind.SECONDS), FigureSpec("breath", Kind.SECONDS))
_COMMON = (
    ("hands", HANDS_SPECS),
    ("smear", SMEAR_SPECS),
    ("glissando", GLISSANDO_SPECS),
    ("load", LOAD_SPECS),
    ("share", SHARE_SPECS),
)
_TUNING = FigureSpec("fixed", Kind.POSITION)
_RING = FigureSpec("ring", Kind.SECONDS, above=True)
_NEVER = FigureSpec("never", Kind.FLAG)
_TABLES = ("players", "instruments", "ring", "window", *(name for name, _ in _COMMON))


@dataclass(frozen=True, slots=True)
class SmearFigures:
    """How much of a string's ring must be left for a change of its pedal to be heard: faintly, clearly (0 to
    1).
    """

    faint: Decimal
    clear: Decimal


@dataclass(frozen=True, slots=True)
class GlissandoFigures:
    """What counts as a glissando. step, least_step: the longest and the shortest time from string to string (µs);
    notes: the fewest.

    remark_step: the longest on the average (µs), remark_notes: the fewest, of one that is told of.
    """

    step: int
    least_step: int
    notes: int
    remark_step: int
    remark_notes: int


@dataclass(frozen=True, slots=True)
class LoadFigures:
    """span: the stretch (µs) over which pedal changes are counted."""

    span: int


@dataclass(frozen=True, slots=True)
class ShareFigures:
    """Two harps that take turns. seam: a shorter turn will not sound seamless; breath: silence that makes a
    hand-over easy (µs).
    """

    seam: int
    breath: int


@dataclass(frozen=True, slots=True)
class Figures:
    """All figures of one run.

    players: the scale's three, slowest first, then those that files add.  instruments: by name, the largest
    first, then added ones.  ringing: how long strings sound.  attack_window, passage_rest, retune: integer
    microseconds. right_low: the lowest string that the right hand plays without remark. smear, glissando,
    loads, sharing: see there. records: every figure with its unit and source, in the order of figures.toml.
    """

    players: tuple[Player, ...]
    instruments: tuple[Instrument, ...]
    ringing: Ringing
    attack_window: int
    passage_rest: int
    retune: int
    right_low: HarpString
    smear: SmearFigures
    glissando: GlissandoFigures
    loads: LoadFigures
    sharing: ShareFigures
    records: tuple[FigureRecord, ...]

    @classmethod
    @cache
    def builtin(cls) -> Figures:
        """The figures that come with livepedal."""
        return _build(_builtin_records(), "figures.toml")

    @classmethod
    def load(cls, path: Path) -> Figures:
        """The built-in figures with a file's own laid over them.

        Raises LivepedalError, naming the file and the key, for whatever is wrong in it.
        """
        return load_figures(path, user_file=None)

    @property
    def lowest_note(self) -> int:
        """The lowest note (MIDI number) of the largest harp: C♭1 (23) unless somebody's own goes lower.

        What lies below is no music for any harp: the keys that switch the articulations of a sample library lie there
        (common practice, no source). Such notes are counted, not judged.
        """
        return min(harp.lowest.natural for harp in self.instruments) - 1

    def player(self, name: str) -> Player:
        """The player of this name.  Raises LivepedalError where there is none."""
        return _named(self.players, name, "player")

    def instrument(self, name: str) -> Instrument:
        """The harp of this name, such as "47".  Raises LivepedalError where there is none."""
        return _named(self.instruments, name, "harp")

    def scale(self, name: str = "working") -> tuple[Player, Player, Player]:
        """The three players that verdicts compare when the player of this name is chosen.

        For relaxed, working and virtuoso it is these three; an added player stands in the working player's
        place. Raises LivepedalError where there is no such player.
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
    """The figures of a run: built-in, then the user's own file if there is one, then the file at `path` if
    given.

    user_file: the user's own file (None: do without it); where not given, it is looked for in the
    configuration folder.  Raises LivepedalError, naming file and key, for a file that cannot be read and for
    anything in it that is unknown, of the wrong type or impossible.
    """
    if user_file is _ASK:
        user_file = user_figures_file()
        # Path.exists would raise where a folder may not be entered; such a file is as good as none.
        if not os.path.exists(user_file):
            user_file = None
    if path is None and user_file is None:
        return Figures.builtin()
    records = _builtin_records()
    figures = Figures.builtin()
    for file in (user_file, path):
        if file is not None:
            name = _printable(str(file))
            records = _overlay(records, _read(file, name), name)
            figures = _build(records, name)
    return figures


# -- Layers of records -------------------------------------------------------------------------------------


_Table: TypeAlias = Mapping[str, object]
_Records: TypeAlias = Mapping[str, FigureRecord]
"""Records by their keys, for merging; their order is the order of the docs."""


@cache
def _builtin_records() -> _Records:
    # Not by importlib.resources, which takes longer to import than all of this package.
    text = Path(__file__).with_name("figures.toml").read_text(encoding="utf-8")
    return _overlay({}, tomllib.loads(text, parse_float=Decimal), "figures.toml")


def _read(path: Path, name: str) -> _Table:
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise LivepedalError(
            f"The figures file {name} cannot be read ({error.strerror or error}); check its name."
        ) from None
    except ValueError as error:
        what = "is not UTF-8 text" if isinstance(error, UnicodeDecodeError) else "cannot be read"
        raise LivepedalError(f"The figures file {name} {what}; save it again as UTF-8.") from None
    try:
        return tomllib.loads(text, parse_float=Decimal)
    except (ValueError, ArithmeticError, RecursionError) as error:
        why = str(error) if isinstance(error, tomllib.TOMLDecodeError) else "a value in it is out of bounds"
        raise LivepedalError(f"The figures file {name} is not valid TOML: {why}; correct it there.") from None


def _overlay(below: _Records, table: _Table, file: str) -> _Records:
    """The records below with those of one file laid over them."""
    merged = dict(below)
    _check_keys(table, _TABLES, "", file)
    for name, player in _subtables(table, "players", file):
        prefix = f"players.{name}."
        base = _based_on(merged, name, player, file)
        if base is not None:
            for key, record in list(merged.items()):
                if key.startswith(f"{base}."):
                    copied = prefix + key.removeprefix(f"{base}.")
                    merged[copied] = FigureRecord(copied, record.value, record.unit, record.source)
        merged |= _take(player, PLAYER_SPECS, prefix, file, others=("based_on",))
    for name, instrument in _subtables(table, "instruments", file):
        prefix = f"instruments.{name}."
        merged |= _take(instrument, INSTRUMENT_SPECS, prefix, file, others=("fixed",))
        for key in ("lowest", "highest"):
            if prefix + key not in merged:
                raise _error(file, prefix + key, 'is missing; a harp needs lowest and highest, such as "C1"')
        if "fixed" in instrument:
            _replace(merged, prefix + "fixed.", _fixed(instrument, prefix, file))
    if "ring" in table:
        _replace(merged, "ring.", _ring(_as_table(table["ring"], "ring", file), file))
    if "window" in table:
        merged |= _take(_as_table(table["window"], "window", file), WINDOW_SPECS, "window.", file)
    for name, specs in _COMMON:
        if name in table:
            merged |= _take(_as_table(table[name], name, file), specs, f"{name}.", file)
    return merged


def _replace(merged: dict[str, FigureRecord], prefix: str, records: _Records) -> None:
    for key in [key for key in merged if key.startswith(prefix)]:
        del merged[key]
    merged |= records


def _based_on(merged: _Records, name: str, player: _Table, file: str) -> str | None:
    """The prefix of the records that a player starts from; None where it has its own in a layer below."""
    key = f"players.{name}"
    known = _names(merged, "players")
    if "based_on" not in player:
        # Only the very first player of the built-in file starts from nothing.
        if name in known or not known:
            return None
        near = get_close_matches(name, known, n=1)
        meant = f'did you mean "{near[0]}", or is' if near else "is"
        raise _error(
            file, key, f'is not known; {meant} it a new player, who needs a line such as based_on = "working"'
        )
    base = player["based_on"]
    if base not in known:
        raise _error(
            file, f"{key}.based_on", f"names no player that stands before; known are {_listed(known)}"
        )
    return f"players.{base}" if base != name else None


def _take(
    table: _Table, specs: Iterable[FigureSpec], prefix: str, file: str, others: tuple[str, ...] = ()
) -> _Records:
    """The records of a table's figures; `others` are keys that it may have beside them."""
    by_key = {spec.key: spec for spec in specs}
    _check_keys(table, (*by_key, *others, "source"), prefix, file)
    sources = _sources(table, (*by_key, *others), prefix, file)
    records = {}
    for key, spec in by_key.items():
        if key in table:
            records[prefix + key] = FigureRecord(
                prefix + key,
                _value(table[key], spec, prefix + key, file),
                spec.kind.unit,
                sources.get(key, f"set in {file}"),
            )
    return records


def _fixed(instrument: _Table, prefix: str, file: str) -> _Records:
    source = _sources(instrument, ("lowest", "highest", "fixed"), prefix, file).get("fixed", f"set in {file}")
    prefix += "fixed."
    records = {}
    for text, tuning in _as_table(instrument["fixed"], prefix[:-1], file).items():
        key = prefix + _string(text, prefix + text, file).name
        if key in records:
            raise _error(file, key, "is given twice; keep one")
        records[key] = FigureRecord(key, _value(tuning, _TUNING, key, file), "", source)
    return records


def _ring(table: _Table, file: str) -> _Records:
    points = {text: value for text, value in table.items() if text not in ("source", "never")}
    sources = _sources(table, tuple(table), "ring.", file)
    if "never" in table and _value(table["never"], _NEVER, "ring.never", file):
        if points:
            raise _error(file, "ring.never", "is true, yet ring times stand beside it; keep one of the two")
        return {"ring.never": FigureRecord("ring.never", True, "", sources.get("never", f"set in {file}"))}
    if not points:
        raise _error(file, "ring", "holds no ring time; give at least one, such as C4 = 4.0, or never = true")
    strings = sorted((_string(text, f"ring.{text}", file), text) for text in points)
    records: dict[str, FigureRecord] = {}
    for string, text in strings:
        key = f"ring.{string.name}"
        if key in records:
            raise _error(file, key, "is given twice; keep one")
        value = _value(points[text], _RING, key, file)
        records[key] = FigureRecord(key, value, "s", sources.get(text, f"set in {file}"))
    for low, high in pairwise(records.values()):
        if isinstance(low.value, Decimal) and isinstance(high.value, Decimal) and high.value > low.value:
            raise _error(
                file,
                high.key,
                f"({high.value} s) is longer than {low.key} ({low.value} s), but higher strings die away"
                " sooner; make it shorter",
            )
    return records


# -- Reading one value -------------------------------------------------------------------------------------


def _value(value: object, spec: FigureSpec, key: str, file: str) -> Value:
    """A value as its spec wants it.  Raises LivepedalError for a wrong type and for an impossible figure."""
    match spec.kind:
        case Kind.FLAG:
            if isinstance(value, bool):
                return value
        case Kind.STRING:
            if isinstance(value, str):
                return _string(value, key, file).name
        case Kind.POSITION:
            if isinstance(value, str):
                try:
                    return Position.parse(value).word
                except LivepedalError:
                    pass
        case Kind.SECONDS | Kind.FACTOR:
            # In Python True is an int, in TOML it is not.
            if isinstance(value, Decimal | int) and not isinstance(value, bool):
                return _number(Decimal(value), spec, key, file)
        case Kind.STRINGS | Kind.COUNT:
            if isinstance(value, int) and not isinstance(value, bool):
                return _number(Decimal(value), spec, key, file)
    raise _error(file, key, f"must be {spec.kind.value}, not {_shown(value)}")


def _number(number: Decimal, spec: FigureSpec, key: str, file: str) -> Decimal:
    unit = " s" if spec.kind is Kind.SECONDS else ""
    if not number.is_finite():
        raise _error(file, key, f"is {number}, which is no figure; write {spec.kind.value}")
    if number < spec.least or (spec.above and number == spec.least):
        bound = f"more than {spec.least}" if spec.above else f"at least {spec.least}"
        raise _error(file, key, f"cannot be {_short(number)}{unit}; make it {bound}{unit}")
    if number > spec.most:
        raise _error(file, key, f"cannot be {_short(number)}{unit}; make it at most {spec.most}{unit}")
    if spec.above and spec.kind is Kind.SECONDS and _microseconds(number) == 0:
        raise _error(file, key, f"cannot be {_short(number)} s; times count in whole microseconds")
    return number


def _string(text: str, key: str, file: str) -> HarpString:
    try:
        return HarpString.parse(text)
    except LivepedalError as error:
        raise LivepedalError(f"{key} in {file}: {error}") from None


def _sources(table: _Table, keys: tuple[str, ...], prefix: str, file: str) -> Mapping[str, str]:
    """The sources that stand beside figures: one text for all of them, or a table with a text for each."""
    source = table.get("source", {})
    if isinstance(source, str):
        return dict.fromkeys(keys, source)
    sources = {}
    key = f"{prefix}source"
    beside = _as_table(source, key, file)
    _check_keys(beside, keys, f"{key}.", file)
    for name, text in beside.items():
        if not isinstance(text, str):
            raise _error(file, f"{key}.{name}", f"must be a text in quotes, not {_shown(text)}")
        sources[name] = text
    return sources


def _as_table(value: object, key: str, file: str) -> _Table:
    if not isinstance(value, dict):
        raise _error(file, key, f"must be a table, not {_shown(value)}")
    return value


def _subtables(table: _Table, key: str, file: str) -> Iterator[tuple[str, _Table]]:
    for name, value in _as_table(table.get(key, {}), key, file).items():
        # A dot would make keys of records ambiguous; other signs are refused because names are shown and
        # typed.
        if not name or not all(c.isalnum() or c in "_- " for c in name):
            raise _error(file, f"{key}.{name!r}", "is no name; use letters, digits, blanks, - and _")
        yield name, _as_table(value, f"{key}.{name}", file)


def _check_keys(table: _Table, known: Iterable[str], prefix: str, file: str) -> None:
    known = tuple(known)
    for key in table:
        if key not in known:
            near = get_close_matches(key, known, n=1)
            hint = f"did you mean {near[0]}?" if near else f"known here are {_listed(known)}."
            raise LivepedalError(f"{prefix}{_printable(key)} in {file} is not a figure; {hint}")


def _error(file: str, key: str, what: str) -> LivepedalError:
    return LivepedalError(f"{_printable(key)} in {file} {what}.")


def _printable(text: str) -> str:
    return text if text.isprintable() else repr(text)


def _shown(value: object) -> str:
    match value:
        case bool():
            return "true" if value else "false"
        case dict():
            return "a table"
        case list():
            return "a list"
        case str():
            return f'"{_printable(value if len(value) < 40 else value[:37] + "...")}"'
        case Decimal() | int():
            return _short(Decimal(value))
    return f"{value}"


def _short(number: Decimal) -> str:
    text = str(number)
    return text if len(text) < 20 else f"{number:.3g}"


def _listed(names: Iterable[str]) -> str:
    return ", ".join(names)


def _names(records: _Records, table: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(key.split(".")[1] for key in records if key.startswith(f"{table}.")))


# -- From records to players and instruments ---------------------------------------------------------------


def _build(records: _Records, file: str) -> Figures:
    players = tuple(_player(name, records) for name in _names(records, "players"))
    scale, added = players[: len(SCALE)], players[len(SCALE) :]
    for slower, faster in [
        *pairwise(scale),
        *((scale[0], me) for me in added),
        *((me, scale[-1]) for me in added),
    ]:
        _check_abler(records, slower.name, faster.name, file)
    instruments = tuple(_instrument(name, records, file) for name in _names(records, "instruments"))
    return Figures(
        players=players,
        instruments=instruments,
        ringing=_ringing(records),
        attack_window=_us(records["window.attack"]),
        passage_rest=_us(records["window.passage_rest"]),
        retune=_us(records["window.retune"]),
        right_low=HarpString.parse(str(records["hands.right_low"].value)),
        smear=_smear(records, file),
        glissando=_glissando(records, file),
        loads=LoadFigures(_us(records["load.span"])),
        sharing=ShareFigures(_us(records["share.seam"]), _us(records["share.breath"])),
        records=tuple(records.values()),
    )


def _check_abler(records: _Records, slower: str, faster: str, file: str) -> None:
    for spec in PLAYER_SPECS:
        low, high = (records[f"players.{name}.{spec.key}"].value for name in (slower, faster))
        if isinstance(low, str) or isinstance(high, str):
            continue
        # two_notches is a factor of the flick, so what is compared is the time of the movement.
        if spec.key == "two_notches":
            continue
        if spec.abler * (high - low) < 0:
            wrong = f"players.{faster}.{spec.key}"
            raise _error(
                file,
                wrong,
                f"({_value_text(high, spec)}) makes {faster} less able than {slower}"
                f" ({_value_text(low, spec)}), but"
                f" verdicts take {faster} for the abler one; change one of the two figures",
            )
    slow, fast = _player(slower, records), _player(faster, records)
    if fast.two_notch_flick > slow.two_notch_flick:
        raise _error(
            file,
            f"players.{faster}.two_notches",
            f"makes a movement over two notches slower for {faster} ({fast.two_notch_flick / 1e6} s) than for"
            f" {slower} ({slow.two_notch_flick / 1e6} s), but verdicts take {faster} for the abler one;"
            " make it smaller",
        )


def _value_text(value: Decimal | bool, spec: FigureSpec) -> str:
    return _shown(value) if isinstance(value, bool) else f"{value} {spec.kind.unit}".strip()


def _player(name: str, records: _Records) -> Player:
    def of(key: str) -> FigureRecord:
        return records[f"players.{name}.{key}"]

    return Player(
        name=name,
        flick=_us(of("flick")),
        two_notch_flick=_microseconds(_decimal(of("flick")) * _decimal(of("two_notches"))),
        cycle=_us(of("cycle")),
        settle=_us(of("settle")),
        overlap=_us(of("overlap")),
        grip=_us(of("grip")),
        two_at_once=of("two_at_once").value is True,
        reach_across=of("reach_across").value is True,
        reach=int(_decimal(of("reach"))),
        inner_reach=int(_decimal(of("inner_reach"))),
        rolled_reach=int(_decimal(of("rolled_reach"))),
        turn_reach=int(_decimal(of("turn_reach"))),
        fingers=int(_decimal(of("fingers"))),
        place=_us(of("place")),
        place_finger=_us(of("place_finger")),
        leap=_us(of("leap")),
        turn=_us(of("turn")),
        roll=_us(of("roll")),
        restrike=_us(of("restrike")),
        repeat=_us(of("repeat")),
        sustained=float(_decimal(of("sustained"))),
    )


def _smear(records: _Records, file: str) -> SmearFigures:
    smear = SmearFigures(_decimal(records["smear.faint"]), _decimal(records["smear.clear"]))
    if smear.clear < smear.faint:
        raise _error(
            file, "smear.clear", f"({smear.clear}) is below smear.faint ({smear.faint}); make it larger"
        )
    return smear


def _glissando(records: _Records, file: str) -> GlissandoFigures:
    longest, least = _decimal(records["glissando.step"]), _decimal(records["glissando.least_step"])
    if least > longest:
        raise _error(
            file,
            "glissando.least_step",
            f"({least} s) is above glissando.step ({longest} s); change one of the two figures",
        )
    return GlissandoFigures(
        _microseconds(longest),
        _microseconds(least),
        int(_decimal(records["glissando.notes"])),
        _us(records["glissando.remark_step"]),
        int(_decimal(records["glissando.remark_notes"])),
    )


def _instrument(name: str, records: _Records, file: str) -> Instrument:
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


def _ringing(records: _Records) -> Ringing:
    if "ring.never" in records:
        return Ringing(None)
    return Ringing(
        tuple(
            (HarpString.parse(key.removeprefix("ring.")).natural, _us(record))
            for key, record in records.items()
            if key.startswith("ring.")
        )
    )


def _decimal(record: FigureRecord) -> Decimal:
    assert isinstance(record.value, Decimal), record
    return record.value


def _us(record: FigureRecord) -> int:
    return _microseconds(_decimal(record))


def _microseconds(seconds: Decimal) -> int:
    return round(seconds * 1_000_000)


def _named(values: tuple[_N, ...], name: str, what: str) -> _N:
    for value in values:
        if value.name == name:
            return value
    near = get_close_matches(name, [value.name for value in values], n=1)
    hint = f"did you mean {near[0]}?" if near else f"known are {_listed(value.name for value in values)}."
    raise LivepedalError(f"There is no {what} {name!r}; {hint}")
