"""Too much at once: nobody keeps up the quickest pedalling for long (common practice, no source)."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from fractions import Fraction
from io import BytesIO
from itertools import pairwise, product
from pathlib import Path

import mido
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from livepedal.advice.check import check_file
from livepedal.harp import Player
from livepedal.model.findings import Finding, Kind, Layer, Passage, Verdict, keep
from livepedal.model.load import Busiest
from livepedal.model.monitor import BareMonitor
from livepedal.music.attacks import Gathered, events_of
from livepedal.music.events import ChoosePlayer, NoteOn, StartAfresh
from tests.advice.changed import RECORDINGS
from tests.advice.making_midi import midi
from tests.model.test_laws import GATHERED, HARP, MUSIC, Music
from tests.music.tempo import scale
from tests.places import MUSIC as REAL

S = 1_000_000
RELAXED, WORKING, VIRTUOSO = PLAYERS = GATHERED.players
CHORDS = BareMonitor(GATHERED, HARP).chords
SPAN = GATHERED.load.span
TEMPOS = (100, 90, 80, 70, 60, 50)
NATURALS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


def busiest(attacks: Sequence[tuple[int, tuple[int, ...]]], span: int = SPAN) -> Busiest:
    """The busiest part of a passage, its attacks given as moments (µs) and pitches."""
    found = Busiest(span, PLAYERS)
    for us, pitches in attacks:
        found.attack(us, pitches, CHORDS.most_of(pitches)[0])
    return found


# -- against brute force -----------------------------------------------------------------------------------------------


def spelled(pitches: tuple[int, ...]) -> list[dict[str, int]]:
    """Every way to call these notes so that no letter stands in two positions."""
    names = [
        [
            (letter, at)
            for letter, plain in NATURALS.items()
            for at in (-1, 0, 1)
            if (plain + at - p) % 12 == 0
        ]
        for p in pitches
    ]
    return [dict(way) for way in product(*names) if len(set(way)) == len(dict(way))]


def changes(ways: Sequence[dict[str, int]]) -> int:
    """How often a letter is wanted in another position than before."""
    lines = ([way[letter] for way in ways if letter in way] for letter in NATURALS)
    return sum(a != b for line in lines for a, b in pairwise(line))


def least(attacks: Sequence[tuple[int, tuple[int, ...]]]) -> int:
    """The least number of changes, by trying every way to call all the notes."""
    return min(changes(ways) for ways in product(*(spelled(pitches) for _, pitches in attacks)))


def spans(attacks: Sequence[tuple[int, tuple[int, ...]]], span: int) -> Iterator[range]:
    """The attacks of every stretch that is no longer than this."""
    for first, (start, _) in enumerate(attacks):
        for last, (end, _) in enumerate(attacks):
            if start <= end <= start + span:
                yield range(first, last + 1)


@settings(max_examples=100, derandomize=True)
@given(
    st.lists(
        st.tuples(
            st.integers(0, 12).map(lambda n: n * S),
            st.lists(st.integers(48, 71), min_size=1, max_size=3, unique=True).map(
                lambda p: tuple(sorted(p))
            ),
        ).filter(lambda one: spelled(one[1])),
        min_size=1,
        max_size=5,
        unique_by=lambda one: one[0],
    ).map(sorted),
    st.integers(1, 12).map(lambda n: n * S),
)
def test_the_least_changes_of_every_stretch(attacks: list[tuple[int, tuple[int, ...]]], span: int) -> None:
    """Brute force: every way to call the notes of every stretch, by the letters of a scale and nothing else."""
    found = busiest(attacks, span)
    assert found.changes == max(least([attacks[n] for n in some]) for some in spans(attacks, span))
    if found.changes:
        (load, *_), pitches = found.loads()
        inside = [one for one in attacks if load.start <= one[0] <= load.end]
        assert load.end - load.start <= span
        assert least(inside) == found.changes > max(least(inside[1:]), least(inside[:-1]))
        assert pitches == inside[0][1]


def test_the_figures_by_hand() -> None:
    """figures.toml: 5, 10 and 20 changes in six seconds, and one more is too much.

    G and A are natural on every harp, and between them lies G♯ or A♭: each step there or back is a change.
    """
    assert SPAN == 6 * S
    for number, most in enumerate((5, 10, 20)):
        for more in (0, 1):
            changes = most + more
            attacks = [(n * SPAN // changes, (68,) if n % 2 else (67, 69)) for n in range(changes + 1)]
            load = busiest(attacks).loads()[0][number]
            assert (load.changes, load.most) == (changes, most)
            assert (load.start, load.end) == (0, SPAN)
            assert load.too_much is bool(more)
    slowly = [(n * S, (68,) if n % 2 else (67, 69)) for n in range(60)]
    assert busiest(slowly).changes == 6  # as many over a longer time
    assert busiest([(n * S // 10, (60 + n % 2 * 4,)) for n in range(60)]).changes == 0


# -- laws --------------------------------------------------------------------------------------------------------------


def judged(music: Music, player: Player = WORKING) -> tuple[Sequence[Passage], dict[int, Finding]]:
    """The passages of some music, and what is said of them."""
    monitor = BareMonitor(GATHERED, HARP, player.name, [Layer.LOAD])
    found: dict[int, Finding] = {}
    for event in events_of(music):
        keep(found, monitor.feed(event))
    keep(found, monitor.finish())
    return monitor.passages, found


@settings(max_examples=60, derandomize=True)
@given(MUSIC, st.sampled_from([Fraction(1, 4), Fraction(1), Fraction(2)]))
def test_slower_is_never_more_and_an_abler_player_never_fares_worse(music: Music, pace: Fraction) -> None:
    most = 1 << 30
    for tempo in TEMPOS:
        passages, _ = judged(scale(music, pace * 100 / tempo))
        for passage in passages:
            too_much = [load.too_much for load in passage.loads]
            assert too_much == sorted(too_much, reverse=True)
            assert len({load.changes for load in passage.loads}) == 1
        now = max(passage.loads[0].changes for passage in passages)
        assert now <= most
        most = now


def at_tempo(path: Path, tempo: int) -> bytes:
    """A file at a share of its tempo (%), by a library that is not livepedal's."""
    file = mido.MidiFile(path)
    for track in file.tracks:
        for message in track:
            if message.type == "set_tempo":
                message.tempo = min(round(message.tempo * 100 / tempo), (1 << 24) - 1)
    out = BytesIO()
    file.save(file=out)
    return out.getvalue()


PARTS = sorted((*RECORDINGS.glob("*.mid"), *REAL.glob("harp/*allegro.mid"), *REAL.glob("harp/bou*.mid")))


@pytest.mark.parametrize("path", PARTS, ids=lambda path: path.stem)
def test_as_check_says_it(path: Path) -> None:
    """The same of files, which are gathered anew at each tempo, and of the recordings in all layers together."""
    before: list[list[int]] = []
    for tempo in TEMPOS:
        layers = [] if path.parent == RECORDINGS else ["load"]
        parts = check_file(at_tempo(path, tempo), only=layers, pedalling=False).files[0].parts
        now = []
        for part in parts:
            players = [[count.outcome, count.too_much] for count in part.counts]
            assert players == sorted(players, reverse=True)
            now += [[part.verdict, max((load.changes for load in part.loads), default=0)], *players]
        assert all(
            a <= b for one, two in zip(now, before or now, strict=True) for a, b in zip(one, two, strict=True)
        )
        before = now


# -- what is said ------------------------------------------------------------------------------------------------------


def weir() -> Music:
    """G and A, and what lies between, in turn: one passage with twenty changes in nine seconds, and a light one."""
    heavy = [(n * S * 9 // 20, (68,) if n % 2 else (67, 69)) for n in range(21)]
    light = [(20 * S + us // 2, pitches) for us, pitches in heavy[:6]]
    return tuple(Gathered(us, tuple((p, us + S // 4) for p in pitches)) for us, pitches in (*heavy, *light))


def test_it_is_said_at_once_and_again_when_the_passage_is_over() -> None:
    """After ten changes the eleventh is too much for the working player; six seconds of that passage hold thirteen."""
    monitor = BareMonitor(GATHERED, HARP, WORKING.name, [Layer.LOAD])
    said = [(event.us, finding) for event in events_of(weir()) for finding in monitor.feed(event)]
    (first_at, first), (again_at, again) = said
    assert (first.kind, first.us, first.pitches, first.verdict) == (
        Kind.TOO_MUCH,
        0,
        (67, 69),
        Verdict.VIRTUOSO,
    )
    assert (first.load and first.load.changes, again.load and again.load.changes) == (11, 13)
    assert (first.id, again.revised) == (again.id, first.revised + 1)
    eleventh, step = 11, S * 9 // 20
    assert eleventh * step < first_at <= (eleventh + 1) * step  # with the event after that attack
    assert 20 * step < again_at <= 20 * S
    assert monitor.finish() == ()


def test_a_player_chosen_in_the_middle_is_told_too() -> None:
    """Six changes are too much for the relaxed player, eleven for the working one, who was chosen in between."""
    events = list(events_of(weir()))
    half = next(number for number, event in enumerate(events) if event.us > 4 * S)
    events.insert(half, ChoosePlayer(events[half].us, WORKING.name))
    monitor = BareMonitor(GATHERED, HARP, RELAXED.name, [Layer.LOAD])
    said = [finding for event in events for finding in monitor.feed(event)]
    told = [(one.player, one.load and one.load.changes, one.revised) for one in said]
    assert told == [(RELAXED.name, 6, 0), (WORKING.name, 11, 1), (WORKING.name, 13, 2)]
    assert len({one.id for one in said}) == 1


def test_the_last_attack_before_a_fresh_start_is_told() -> None:
    eleven = weir()[:12]
    monitor = BareMonitor(GATHERED, HARP, WORKING.name, [Layer.LOAD])
    found = [monitor.feed(event) for event in events_of(eleven) if isinstance(event, NoteOn)]
    assert not any(found)
    (said,) = monitor.feed(StartAfresh(20 * S))
    assert said.load is not None
    assert said.load.changes == 11


def test_each_passage_has_its_own() -> None:
    passages, found = judged(weir(), RELAXED)
    assert [passage.loads[0].changes for passage in passages] == [13, 5]
    assert [passage.verdict for passage in passages] == [Verdict.VIRTUOSO, Verdict.EASY]
    assert [finding.verdict for finding in found.values()] == [Verdict.VIRTUOSO]
    assert judged(weir(), VIRTUOSO) == (passages, {})


def test_a_chromatic_scale_is_not_playable_because_each_change_could_be_made() -> None:
    """Two octaves up and down (common practice, no source): at four notes a second no working harpist keeps up with the
    pedals, at one a second they do.
    """
    pitches = [*range(60, 84), *range(84, 59, -1)]
    for bpm, too_much in ((240, True), (60, False)):
        data = midi(("Harp", [(n, 1, (pitch,)) for n, pitch in enumerate(pitches)]), bpm=bpm)
        (part,) = check_file(data).files[0].parts
        assert bool(part.counts[1].too_much) is too_much
        assert (part.verdict >= Verdict.VIRTUOSO) is too_much


@pytest.mark.slow
@pytest.mark.skipif(not REAL.is_dir(), reason="needs the real music")
def test_the_densest_harp_parts_are_not_too_much_and_chromatic_keyboard_music_is() -> None:
    for name in ("boulanger_matin_de_printemps", "mozart_k299_harpaallegro"):
        (part,) = check_file(REAL / "harp" / f"{name}.mid", only=["load"]).files[0].parts
        assert not part.counts[1].too_much, name
    path = REAL / "keyboard" / "mutopia_bachjs_bwv903fan.mid"
    (part,) = check_file(path, only=["load"], tracks=["1", "2"], merge=True).files[0].parts
    assert part.counts[1].too_much


def test_where_the_pedalling_has_more_changes_than_the_notes_ask_for_it_is_said() -> None:
    """A chromatic scale at three and a half notes a second can be kept up, but not by its ordinary names."""
    pitches = [*range(60, 84), *range(84, 59, -1)]
    data = midi(("Harp", [(n, 1, (pitch,)) for n, pitch in enumerate(pitches)]), bpm=210)
    (part,) = check_file(data).files[0].parts
    (said,) = (remark for remark in part.remarks if "can keep up" in remark)
    told = re.fullmatch(
        r"From bar (\d+) on the pedalling shown has (\d+) changes within 6 s;"
        r" the working player can keep up 10\. Spelled otherwise, (\d+) may be enough\.",
        said,
    )
    assert told is not None
    bar, shown, fewest = map(int, told.groups())
    start = next(change.us for change in part.plan.changes if part.place(change.us).bar == bar)
    assert sum(start <= change.us <= start + SPAN for change in part.plan.changes) == shown > 10
    assert fewest == part.loads[0].changes <= 10
    assert not any(
        "can keep up" in remark for remark in check_file(data, only=["pedals"]).files[0].parts[0].remarks
    )
