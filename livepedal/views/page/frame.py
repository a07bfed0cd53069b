"""What all bars of a timeline have in common: the strings that are drawn, the pedals' lanes, how high it is."""

from __future__ import annotations

from collections.abc import Sequence

from livepedal.advice.judging.report import PartReport
from livepedal.harp import Foot, HarpString, Instrument, Spelling, octave_shift
from livepedal.music.attacks import Gathered
from livepedal.views.page.pieces import Piece, Shelves, piece_at
from livepedal.views.page.timeline import FLAG, HEAD, PedalLane, TimelineFrame, short

LANE = 13
FEET_GAP = 8
ROW = 18  # of the tightest gap
FEWEST_STRINGS = 15
MANY_STRINGS = 36

# For each pitch class the letter (from C) on whose string it is drawn where no string of the harp gives it: of two
# letters that could have it either would do.
LETTERS = (0, 0, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)


def _strings(part: PartReport, instrument: Instrument) -> tuple[int, int]:
    used = [n for attack, row in part.spelled for n in numbers_of(attack, row, instrument)]
    lowest, highest = instrument.lowest.number, instrument.highest.number
    if not used:
        return lowest, highest
    low, high = max(min(used) - 1, lowest), min(max(used) + 1, highest)
    while high - low + 1 < min(FEWEST_STRINGS, highest - lowest + 1):
        low, high = max(low - 1, lowest), min(high + 1, highest)
    return low, high


def numbers_of(attack: Gathered, row: Sequence[Spelling | None], instrument: Instrument) -> list[int]:
    """The string of each note; where the plan leaves one out, the first that could give it, or would, were it there."""
    found = []
    for (pitch, _), spelling in zip(attack.notes, row, strict=True):
        if spelling is not None:
            found.append(spelling.string.number)
            continue
        could = instrument.spellings(pitch)
        octave, pitch_class = divmod(pitch, 12)
        found.append(could[0].string.number if could else 7 * (octave - 1) + LETTERS[pitch_class])
    return found


def frame_of(part: PartReport, instrument: Instrument, middle_c: str, flag_rows: int) -> TimelineFrame:
    """The frame of a part's timeline. flag_rows: of the numbers of findings above it."""
    low, high = _strings(part, instrument)
    count = high - low + 1
    pitch = 5.5 if count <= MANY_STRINGS else 5.0
    top = HEAD + flag_rows * FLAG
    bottom = top + count * pitch
    lanes, feet, y = _lanes(bottom + 10)
    shift = octave_shift(middle_c)
    lines = {"": "", "C": "", "F": ""}
    named: dict[str, list[tuple[str, float]]] = {"C": [], "F": []}
    for number in range(low, high + 1):
        string = HarpString.numbered(number)
        letter = string.pedal.letter
        at = top + (high - number + 0.5) * pitch
        lines[letter if letter in lines else ""] += f"M0 {short(at)}H300"
        if letter in named:
            named[letter].append((f"{letter}{string.octave + shift}", at + 3.5))
    return TimelineFrame(
        lowest=low,
        highest=high,
        pitch=pitch,
        strings=top,
        bottom=bottom,
        lanes=tuple(lanes),
        gaps=y + ROW / 2,
        height=y + ROW,
        # Each character has a place of its own, so that all names of a letter are one element.
        names=tuple(
            (
                letter,
                "".join(name for name, _ in some),
                " ".join("-22 -15" for _ in some),
                " ".join(f"{short(at)} {short(at)}" for _, at in some),
            )
            for letter, some in named.items()
            if some
        ),
        lines=tuple(lines.items()),
        feet=tuple(feet),
        signs_x=" ".join("-20" for _ in lanes),
        signs_y=" ".join(short(lane.y + 4) for lane in lanes),
    )


def _lanes(y: float) -> tuple[list[PedalLane], list[tuple[float, float, str]], float]:
    """The pedals' lanes from y downwards, the first and last y of each foot with its name, and the y below all."""
    lanes: list[PedalLane] = []
    feet: list[tuple[float, float, str]] = []
    for foot in Foot:
        first = y
        for pedal in foot.pedals:
            lanes.append(PedalLane(pedal, y + LANE / 2))
            y += LANE
        feet.append((first, y, foot.value))
        y += FEET_GAP
    return lanes, feet, y


def flag_rows(part: PartReport, pieces: Sequence[Piece]) -> int:
    """How many rows the numbers of findings take where they stand closest."""
    if not pieces:
        return 0
    shelves = [Shelves(piece.width) for piece in pieces]
    rows = 0
    for us in sorted(finding.us for finding in part.findings):
        number = piece_at(pieces, us)
        put = shelves[number].put(pieces[number].x(us))
        if put is not None:
            rows = max(rows, put[1] + 1)
    return rows
