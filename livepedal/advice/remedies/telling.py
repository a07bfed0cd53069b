"""Remedies in words, for the report and the JSON alike: one clause that a composer can act upon.

Places are bar and beat where a time map is known, and seconds where it is not. Note names are those of the
strings that give them.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Sequence
from fractions import Fraction
from itertools import groupby

from livepedal.advice.remedies.remedy import ChangedNote, Hard, PartAdvice, PlaceAdvice, Remedy, RemedyKind
from livepedal.advice.remedies.second import WHOLE_TONES, SecondHarp
from livepedal.advice.remedies.tempo import PlayerTempo, metronome_mark
from livepedal.harp import Instrument, Pedal, Position, Setting, pitch_name
from livepedal.model.findings import Finding, Layer, Passage
from livepedal.music.timemap import Place, TimeMap
from livepedal.music.wording import bar_span, counted, listed, moment, note_name, place_text, plain

HARD = "no tempo makes this playable"
MOST_MISSING = 3  # notes without a string that are named
ONLY_THE_SPELLING = "only the given spelling is in the way"
FREED = "with livepedal choosing the spelling"


class Teller:
    """Tells remedies of one part.

    Attributes:
        middle_c: what middle C is called.
        time_map: None where nobody knows the bars.
        struck: the moments of its attacks (µs), by which bars are told, so that none counts where a note only sounds
            on.
    """

    def __init__(
        self,
        instrument: Instrument,
        time_map: TimeMap | None = None,
        middle_c: str = "C4",
        struck: Sequence[int] = (),
    ) -> None:
        self.instrument = instrument
        self.time_map = time_map
        self.middle_c = middle_c
        self.struck = struck

    def what(self, remedy: Remedy) -> str:
        """The remedy in one clause, such as "play bars 2 to 3 at ♩ = 84 instead of 112 (75% of the tempo)"."""
        text = self._what(remedy)
        return text if remedy.kind is RemedyKind.SETTING else plain(text)

    def _what(self, remedy: Remedy) -> str:
        match remedy.kind:
            case RemedyKind.SETTING:
                return self._start(remedy)
            case RemedyKind.SPELLING:
                return self._spelling(remedy)
            case RemedyKind.REST:
                return self._rest(remedy)
            case RemedyKind.TEMPO:
                return self._tempo(remedy)
            case RemedyKind.OCTAVE:
                return self._octave(remedy.notes)
            case RemedyKind.GLISSANDO:
                return self._glissando(remedy)
            case RemedyKind.OMIT:
                return f"leave out {self.notes(remedy.notes)}"
            case RemedyKind.SECOND_HARP:
                assert remedy.second is not None
                return self._second(remedy.second)

    def _glissando(self, remedy: Remedy) -> str:
        names = class_names({note.pitch % 12 for note in remedy.notes})
        bars = self.bars(remedy.start, remedy.end)
        return f"play {bars} as a glissando without {' '.join(names)} (set {remedy.setting})"

    def _start(self, remedy: Remedy) -> str:
        assert remedy.setting is not None
        moved = moved_pedals(remedy.asked, remedy.setting)
        return (
            f"start with {' '.join(moved)} instead: {remedy.setting}"
            if moved
            else f"start with {remedy.setting}"
        )

    def _spelling(self, remedy: Remedy) -> str:
        text = f"{ONLY_THE_SPELLING} here"
        if not remedy.others:
            return f"{text}; let livepedal choose it, and the whole passage can be played"
        return f"{text}, but {counted(remedy.others, 'other attack')} of the passage cannot be played in any spelling"

    def _rest(self, remedy: Remedy) -> str:
        assert remedy.longer is not None
        text = f"lengthen the rest before {self.at(remedy.start)} by {remedy.longer / 1_000_000:.1f} s"
        if self.time_map is not None:
            quarters = self.time_map.beats_per_minute(remedy.start) * remedy.longer / 60_000_000
            text += f" ({float(quarters):.1f} crotchets)"
        return f"{text}, for the pedals"

    def _tempo(self, remedy: Remedy) -> str:
        text = f"play {self.bars(remedy.start, remedy.end)} {self.pace(remedy)}"
        if remedy.limit is not None:
            us, share = remedy.limit
            text += f"; {self.at(us)} sets the limit: at {percent_of(share)} it is only just in time"
        if remedy.others:
            others = counted(remedy.others, "other attack")
            text += f"; {others} in these bars still cannot be played (listed separately)"
        if faults := self.audible(remedy):
            text += f"; {'the rest is ' if remedy.others else ''}playable{faults}"
        return text

    def pace(self, remedy: Remedy) -> str:
        """How fast a tempo is, such as "at ♩ = 84 instead of 112 (75% of the tempo)"."""
        assert remedy.ratio is not None
        if self.time_map is None:
            return slower(remedy.ratio)
        percent = f"{percent_of(remedy.ratio)} of the tempo"
        bpm, written = self.bpm(remedy), self.steady(remedy.start, remedy.end)
        return f"at {percent}" if written is None else f"at ♩ = {bpm} instead of {round(written)} ({percent})"

    def audible(self, remedy: Remedy) -> str:
        """The audible changes at a tempo (" with an audible pedal change"), and the slower one that has none."""
        if not remedy.audible:
            return ""
        text = f" with {counted(remedy.audible, 'audible pedal change')}"
        if remedy.quiet is not None:
            written = self.steady(remedy.start, remedy.end)
            if written is not None:
                quiet = f"at ♩ = {metronome_mark(written * remedy.quiet)}"
            else:
                quiet = slower(remedy.quiet) if self.time_map is None else f"at {percent_of(remedy.quiet)}"
            text += f"; {quiet} with none"
        return text

    def _octave(self, notes: Sequence[ChangedNote]) -> str:
        texts = []
        for note in notes:
            assert note.to is not None
            way = "higher" if note.to > note.pitch else "lower"
            texts.append(f"{self.name(note.pitch)} ({self.at(note.us)}) an octave {way}")
        return f"play {'; '.join(texts)}"

    def _second(self, second: SecondHarp) -> str:
        bars = self.bars(second.start, second.end)
        if not (second.classes or second.below or second.above):
            text = f"give {bars} to a second harp"
            return text + (", but a turn this short will not sound seamless" if second.quick else "")
        if second.classes in WHOLE_TONES:
            names, notes = " ".join(class_names(second.classes)), counted(second.notes, "note")
            return f"{bars}: share it note by note with a second harp, which has {names} ({notes})"
        if second.classes:
            what = f"the {listed([f'{plain(class_name(one))}s' for one in second.classes])}"
        elif second.below is not None:
            what = f"the notes below {self.name(second.below)}"
        else:
            assert second.above is not None
            what = f"the notes from {self.name(second.above)} up"
        return f"{bars}: give {what} to a second harp ({counted(second.notes, 'note')})"

    def notes(self, notes: Sequence[ChangedNote]) -> str:
        """Notes with their places, those of one attack together."""
        texts = []
        for us, group in groupby(notes, key=lambda note: note.us):
            names = [self.name(note.pitch) for note in group]
            texts.append(f"{listed(names)} ({self.at(us)})")
        return "; ".join(texts)

    def hard(self, hard: Hard, player: str, start: int, others: bool) -> str:
        """What is to be said where the tempo is no remedy.

        Args:
            hard: what was found.
            player: the name of the player.
            start: where the place starts (µs).
            others: whether one harp has other remedies.
        """
        who = f"a {player} player"
        text = HARD
        if hard.speed is not None:
            ratio = Fraction(hard.speed, 1000)
            text = f"{who} would need {percent_of(ratio)} of the tempo"
            if self.time_map is not None:
                text += f" (♩ = {metronome_mark(self.time_map.beats_per_minute(start) * ratio)})"
            text += ", too slow to be the same music"
        if not others:
            text += ": revoice it"
        if hard.melody:
            it = "that is" if len(hard.melody) == 1 else "those are"
            text += f"; without {self.notes(hard.melody)} it could be played, but {it} the melody"
        return plain(text)

    def how_fast(
        self,
        what: str,
        tempos: Sequence[PlayerTempo],
        written: Fraction | None,
        findings: Iterable[Finding] = (),
    ) -> tuple[str, list[tuple[str, str]]]:
        """How fast something can be played: a sentence, and for each player what `tempos` says.

        The sentence is all there is to say where nobody can play it; without tempos there is nothing to say.

        Args:
            what: such as "bars 2 to 5".
            tempos: of the players.
            written: quarters a minute, where they are the same throughout.
            findings: among them those of notes that no string gives, which no tempo changes.
        """
        if not tempos:
            return "", []
        mark = "" if written is None else f" (written at ♩ = {round(written)})"
        if not any(tempo.sensible for tempo in tempos):
            missing = [ChangedNote(one.us, one.note) for one in findings if one.layer is Layer.STRINGS]
            if missing:
                notes = (
                    self.notes(missing) if len(missing) <= MOST_MISSING else f"{len(missing)} of its notes"
                )
                return plain(f"No tempo makes {what} playable: no string gives {notes}"), []
            return f"No player can play {what} even at half the tempo{mark}", []
        return f"How fast {what} can be played{mark}:", self.tempos(tempos, written)

    def tempos(self, tempos: Sequence[PlayerTempo], written: Fraction | None) -> list[tuple[str, str]]:
        """Each player, and how fast they manage something: "at ♩ = 84, or slower", "at full tempo"."""
        # Not "up to": a metronome mark between two whole per cent was not tried.
        found = []
        for tempo in tempos:
            if tempo.speed == 1000:
                says = "at full tempo"
            elif not tempo.sensible or tempo.ratio is None:
                says = "not even at half the tempo"
            else:
                share = f"at {percent_of(tempo.ratio)} of the tempo"
                at = share if written is None else f"at ♩ = {tempo.bpm(written)}"
                also = f", with {counted(tempo.audible, 'audible pedal change')}" if tempo.audible else ""
                says = f"{at}{also}, or slower"
            found.append((tempo.player, says))
        return found

    def bpm(self, remedy: Remedy) -> int | None:
        """The metronome mark of a tempo (quarters a minute, rounded down); None where there is no steady one."""
        if remedy.ratio is None:
            return None
        written = self.steady(remedy.start, remedy.end)
        return None if written is None else metronome_mark(written * remedy.ratio)

    def steady(self, start: int, end: int) -> Fraction | None:
        """Quarters a minute, where they are the same from `start` to `end` (µs)."""
        if self.time_map is None:
            return None
        tempos = self.time_map.tempos
        ticks = self.time_map.tick(start), self.time_map.tick(max(start, end - 1))
        if any(ticks[0] < tempo.tick <= ticks[1] for tempo in tempos):
            return None
        return self.time_map.beats_per_minute(start)

    def place_of(self, us: int) -> Place | None:
        """Bar and beat of a moment; None where nobody knows."""
        return None if self.time_map is None else self.time_map.told(us)

    def at(self, us: int) -> str:
        """Bar and beat of a moment, or the time."""
        if self.time_map is None:
            return moment(us)
        return place_text(self.time_map.told(us))

    def head(self, advice: PartAdvice) -> str:
        """What all its remedies are, such as "What would make it playable for the working player"."""
        text = f"What would make it playable for the {advice.player} player"
        return f"{text}, {FREED}" if advice.freed else text

    def place(self, place: PlaceAdvice) -> str:
        """Where a place begins, and how many attacks it has; or that it has too much at once."""
        where = self.at(place.troubles[0])
        if place.too_much:
            return f"too much at once from {where} on"
        attacks = len(place.troubles)
        return where if attacks == 1 else f"{counted(attacks, 'attack')} from {where} on"

    def bars(self, start: int, end: int) -> str:
        """From the bar of the first attack to that of the last; `end` lies behind it."""
        if self.time_map is None:
            return f"from {moment(start)} to {moment(end)}"
        first, behind = self.time_map.place(start).bar, self.time_map.place(end)
        last = behind.bar - (behind.beat == 1)
        number = bisect_left(self.struck, end)
        if number:
            last = self.time_map.told(self.struck[number - 1]).bar
        return bar_span(first, max(first, last))

    def reach(self, passage: Passage) -> str:
        """The same of a whole passage, whose last attack may be its end, where its keys are never released."""
        return self.bars(passage.start, max(passage.end, passage.last + 1))

    def name(self, pitch: int) -> str:
        """A note by the strings that give it: the natural where there is one."""
        return note_name(pitch, self.instrument.spellings(pitch), self.middle_c)


def moved_pedals(asked: Setting | None, setting: Setting) -> list[str]:
    """The pedals that stand otherwise than asked for, such as "A♭"."""
    return [
        pedal.at(position)
        for pedal, position in zip(Pedal, setting.positions, strict=True)
        if position is not None and (asked is None or asked.positions[pedal] is not position)
    ]


def class_name(pitch_class: int) -> str:
    """A pitch class as it is named without octave, such as "G♯/A♭"."""
    names = (pitch_name(60 + pitch_class, Position.SHARP), pitch_name(60 + pitch_class))
    return "/".join(dict.fromkeys(name[:-1] for name in names))


def class_names(classes: Iterable[int]) -> list[str]:
    """Pitch classes under one name each, flats rather than sharps."""
    return [plain(pitch_name(60 + one)[:-1]) for one in sorted(classes)]


# Tempos that can be counted: so many beats in the time of so many.
_COUNTED = (
    (9, 10, "a tenth slower"),
    (7, 8, "an eighth slower"),
    (5, 6, "a sixth slower"),
    (4, 5, "a fifth slower"),
    (3, 4, "a quarter slower"),
    (2, 3, "a third slower"),
    (3, 5, "two fifths slower"),
    (1, 2, "half as fast"),
)


def slower(ratio: Fraction) -> str:
    """A share of the tempo for somebody who counts and has no metronome.

    It is the next slower one that can be counted, since slower is never worse.
    """
    now, before, said = next((one for one in _COUNTED if Fraction(one[0], one[1]) <= ratio), _COUNTED[-1])
    return f"about {said}: count {now} where you counted {before}"


def percent_of(ratio: Fraction) -> str:
    """A share in whole per cent, rounded down, since slower is never worse."""
    return f"{int(ratio * 100)}%"
