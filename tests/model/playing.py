"""Play a judge's passage through livepedal's own model, so that the two can be held against each other."""

from __future__ import annotations

from dataclasses import fields, replace
from decimal import Decimal
from unittest import mock

from livepedal.harp import Figures, HarpString, Instrument, Player, Position, Ringing, Setting, Spelling
from livepedal.model.feet import readings, tracker
from livepedal.model.findings import Layer, Outcome
from livepedal.model.monitor import BareMonitor
from livepedal.model.plan.planner import Plan, Planner
from livepedal.music.attacks import Gathered
from livepedal.music.events import Event, NoteOff, NoteOn, SetPedals
from tests.judge import cpsat

LOWEST_JUDGED = 23
# What the judge's figures and a player have in common, by its name.
OF_PLAYERS = [known.name for known in fields(cpsat.Figures) if hasattr(Player, known.name)]


def player_of(figures: cpsat.Figures, name: str = "working") -> Player:
    """A player with the figures of the judge's, and the working player's where the judge has none."""
    own = {key: getattr(figures, key) for key in OF_PLAYERS}
    own["two_notches"] = Decimal(own.pop("two_notch_flick")) / (figures.flick or 1)
    return replace(Figures.builtin().player("working"), name=name, **own)


def harp_of(harp: cpsat.Harp) -> Instrument:
    return Instrument(
        "judge",
        HarpString.numbered(harp.lowest),
        HarpString.numbered(harp.highest),
        tuple(Spelling(HarpString.numbered(n), Position(p), fixed=True) for n, p in harp.fixed),
    )


def ringing_of(figures: cpsat.Figures) -> Ringing:
    ring, loud = (
        None if table is None else tuple(enumerate(table)) for table in (figures.ring, figures.loud)
    )
    return Ringing(ring, loud)


def monitor_of(figures: cpsat.Figures) -> BareMonitor:
    """A monitor all of whose three players have these figures, and whose attacks are as they come."""
    player = player_of(figures)
    builtin = Figures.builtin()
    own = replace(
        builtin,
        players=tuple(replace(player, name=name) for name in ("relaxed", "working", "virtuoso")),
        ringing=ringing_of(figures),
        window=replace(builtin.window, attack=0),
    )
    return BareMonitor(own, harp_of(figures.harp), only=(Layer.PEDALS, Layer.STRINGS))


def events_of(passage: cpsat.Passage) -> list[Event]:
    """The passage as events: at one moment keys come up before others go down."""
    timed: list[tuple[int, int, int, Event]] = []
    source = 0  # each note has a key of its own, so that a pitch struck twice in one attack is held by both
    for number, attack in enumerate(passage.attacks):
        for note in attack.notes:
            source += 1
            timed.append((attack.time, 1, number, NoteOn(attack.time, note.pitch, source=source)))
            if note.release is not None:
                late = note.release <= attack.time
                timed.append(
                    (note.release, 2 if late else 0, number, NoteOff(note.release, note.pitch, source=source))
                )
    timed.sort(key=lambda item: item[:3])
    events: list[Event] = [event for *_, event in timed]
    if passage.start is not None:
        positions = tuple(None if p is None else Position(p) for p in passage.start.positions)
        events.insert(0, SetPedals(passage.start.time, Setting(positions)))
    return events


def first_unplayable(passage: cpsat.Passage, figures: cpsat.Figures) -> dict[str, int | None]:
    """For each notion of free, the index of the first attack that the model cannot play, however much work that is."""
    endless = 1 << 60
    with (
        mock.patch.multiple(tracker, MOST_STEPS=endless, MOST_READINGS=endless),
        mock.patch.object(readings, "MOST_COMPARED", endless),
    ):
        return _first_unplayable(passage, figures)


def _first_unplayable(passage: cpsat.Passage, figures: cpsat.Figures) -> dict[str, int | None]:
    monitor = monitor_of(figures)
    found: dict[str, int | None] = {"held": None, "sliding": None}
    numbers = {attack.time: number for number, attack in enumerate(passage.attacks)}
    left = {attack.time: len(attack.notes) for attack in passage.attacks}
    below = False
    for event in events_of(passage):
        monitor.feed(event)
        if not isinstance(event, NoteOn):
            continue
        below = below or event.pitch < LOWEST_JUDGED
        left[event.us] -= 1
        if left[event.us]:
            continue  # a note that comes later may mend it: its finger damps a string
        number = numbers[event.us]
        count = monitor.counts()[1]
        if found["held"] is None and (below or count.unplayable or count.audible):
            found["held"] = number
        if found["sliding"] is None and (below or count.unplayable):
            found["sliding"] = number
        if found["sliding"] is not None:
            break
    return found


def all_unplayable(passage: cpsat.Passage, figures: cpsat.Figures) -> tuple[int, ...]:
    """The moments of all attacks that the model cannot play, audibly or not."""
    monitor = monitor_of(figures)
    for event in events_of(passage):
        monitor.feed(event)
    monitor.finish()
    return tuple(us for us, outcomes in monitor.record.troubles if outcomes[1] is Outcome.CANNOT)


def gathered(passage: cpsat.Passage) -> tuple[Gathered, ...]:
    """The passage as the planner takes it: a pitch struck twice in one attack is one note, held by the last of its
    keys; one that is struck again while it is held ends there, and its key holds the new one too.
    """
    found = []
    times = [attack.time for attack in passage.attacks]
    for number, attack in enumerate(passage.attacks):
        ends: dict[int, list[int | None]] = {note.pitch: [] for note in attack.notes}
        for past in passage.attacks[: number + 1]:
            for note in past.notes:
                if note.pitch in ends and (
                    past is attack or note.release is None or note.release > attack.time
                ):
                    ends[note.pitch].append(note.release)
        again = {
            pitch: next(
                (
                    time
                    for time, later in zip(times[number + 1 :], passage.attacks[number + 1 :], strict=True)
                    if any(note.pitch == pitch for note in later.notes)
                ),
                None,
            )
            for pitch in ends
        }
        notes = []
        for pitch, releases in sorted(ends.items()):
            end = None if None in releases else max(us for us in releases if us is not None)
            until = again[pitch]
            notes.append((pitch, until if until is not None and (end is None or end > until) else end))
        found.append(Gathered(attack.time, tuple(notes)))
    return tuple(found)


def plan(passage: cpsat.Passage, figures: cpsat.Figures, relaxed: cpsat.Figures) -> Plan:
    planner, start, start_us = _planner(passage, figures, relaxed)
    return planner.plan(gathered(passage), start, start_us)


def _planner(
    passage: cpsat.Passage, figures: cpsat.Figures, relaxed: cpsat.Figures
) -> tuple[Planner, Setting | None, int]:
    """What plans the passage, how its pedals stand at first, and since when (µs)."""
    start = None
    if passage.start is not None:
        start = Setting(tuple(None if p is None else Position(p) for p in passage.start.positions))
    planner = Planner(player_of(figures), player_of(relaxed), harp_of(figures.harp), ringing_of(figures))
    return planner, start, passage.start.time if passage.start else 0
