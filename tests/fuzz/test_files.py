"""Bad files, a fixed few of each kind; `python -m tests.benchmarks.fuzz files` tries as many as one likes."""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from livepedal.errors import LivepedalError
from livepedal.music.events import NoteOff, NoteOn
from livepedal.music.parts import choose_parts
from livepedal.music.song import read_song
from livepedal.sources.raw import MAX_TRACKS
from livepedal.sources.reading import read_raw
from tests.fuzz import attempts, inputs

SMALL = dict(inputs.shapes(20_000))


def test_seeds_are_files() -> None:
    """A seed that is refused at once would make all its mutations useless, but for the one of a long wait."""
    outcomes = [attempts.read(data) for data in inputs.seeds()]
    assert all(outcome.notes for outcome in outcomes[:-1])


@pytest.mark.parametrize("seed", range(8))
def test_mutated_files(seed: int) -> None:
    rng = random.Random(seed)
    seeds = inputs.seeds()
    outcomes = [attempts.read(inputs.mutated(rng, rng.choice(seeds), seeds)) for _ in range(60)]
    assert any(outcome.refusal for outcome in outcomes)
    assert any(outcome.notes for outcome in outcomes)


@pytest.mark.parametrize("name", SMALL)
def test_shapes(name: str) -> None:
    outcome = attempts.read(SMALL[name])
    assert outcome.notes or outcome.refusal


def test_too_many_tracks_are_refused() -> None:
    """Each could be a harp's, and tens of thousands of harps would be judged for ever."""
    with pytest.raises(LivepedalError, match=f"more than {MAX_TRACKS} tracks"):
        read_raw(inputs.file([inputs.NOTE] * (MAX_TRACKS + 1)))


@given(st.lists(st.integers(0, 15), min_size=1, max_size=4), st.booleans())
@settings(max_examples=20)
def test_all_notes_off_lets_go_of_its_own_channel_alone(channels: list[int], many: bool) -> None:
    """However many keys of others are down. It took 23 s for a file of a megabyte with 1,920 keys down."""
    sounding = [channel for channel in range(16) if channel != 9] if many else [0, 1]
    body = inputs.HARP + b"".join(
        b"\0" + bytes((0x90 | channel, pitch, 64)) for channel in sounding for pitch in range(36, 96)
    )
    body += b"".join(b"\x60" + bytes((0xB0 | channel, 123, 0)) for channel in channels)
    (part,) = choose_parts(read_song(inputs.file([body])))
    up = [event for event in part.events if isinstance(event, NoteOff)]
    assert sorted((event.source, event.pitch) for event in up) == [(c, p) for c in sounding for p in range(36, 96)]
    silenced = [channel for channel in dict.fromkeys(channels) if channel in sounding]
    assert list(dict.fromkeys(event.source for event in up))[: len(silenced)] == silenced


@given(
    st.lists(
        st.sets(st.tuples(st.integers(0, 3), st.integers(60, 62)), min_size=1, max_size=5),
        min_size=2,
        max_size=8,
    )
)
def test_layers_are_found_as_by_looking_at_all_pairs(tracks: list[set[tuple[int, int]]]) -> None:
    """It looked at all pairs, which took minutes for the 50,000 tracks that fit into a megabyte."""
    bodies = []
    for notes in tracks:
        body, now = inputs.HARP, 0
        for tick, pitch in sorted(notes):
            body += inputs.number(tick - now) + bytes((0x90, pitch, 64))
            now = tick
        bodies.append(body)
    kept: list[set[tuple[int, int]]] = []
    for notes in sorted(tracks, key=lambda notes: -len(notes)):
        if not any(notes <= other for other in kept):
            kept.append(notes)
    if len(kept) == 2:  # two tracks of one name are the staves of one harp
        kept = [kept[0] | kept[1]]
    parts = choose_parts(read_song(inputs.file(bodies)))
    struck = [
        {(part.time_map.tick(event.us), event.pitch) for event in part.events if isinstance(event, NoteOn)}
        for part in parts
    ]
    assert sorted(map(sorted, struck)) == sorted(map(sorted, kept))
