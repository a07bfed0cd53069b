"""The notes of a part as they are played, in ticks of the song: ties, grace notes, notes that ring on.

- Grace notes come before the beat (common practice since about 1830, no source here), GRACE apart, less where there is
  less room.
- A harp's strings ring on unless they are damped. *Étouffé* (damped, muffled): the string is damped when the note ends,
  so it is silent and its pedal free from then on. *Laissez vibrer* (l.v.): it rings beyond its value, until its string
  is struck again, a damp sign, or the end. Terms of the trade in five languages; no source but dictionaries.
- Such a word counts for what is struck together with it, in both hands; with "sempre", "simile" or "sons" for all notes
  until a word says otherwise ("ordinaire", or the contrary). A damp sign ends what sounds where it stands.
"""

from __future__ import annotations

import re
from array import array
from bisect import bisect_right
from collections.abc import Sequence
from operator import itemgetter

from livepedal.harp.signs import NO_SIGN, Sign
from livepedal.sources.raw import NOTE_OFF, NOTE_ON, PROGRAM, packed
from livepedal.sources.scores.measures import TICKS, Measure, ScoreNote, ScorePart
from livepedal.sources.scores.written import Words, Written

GRACE = 0.1  # seconds from a grace note to the next note: judgement

_DAMPED = re.compile(
    r"\b(?:[ée]touff|smorzat|soffoc|apagad|abd[äa]mpf|ged[äa]mpft|muffle|damp(?:ed)?\b)|^\s*[ée]t\.",
    re.IGNORECASE,
)
_RINGS = re.compile(
    r"\bl\. ?v\b|\blaisse[rz] vibrer|\blet ring|\blet vibrate|\blascia(?:r|re)? vibrar"
    r"|\bdejar vibrar|\bklingen lassen|\bnicht d[äa]mpfen|\bdon.t damp",
    re.IGNORECASE,
)
_LASTING = re.compile(r"\b(?:sempre|sim(?:\.|ile)|toujours|immer|always|siempre|sons)\b", re.IGNORECASE)
_ORDINARY = re.compile(r"\b(?:ord(?:\.|inaire|inario)?|normal|gew[öo]hnlich)(?:\W|$)", re.IGNORECASE)


class AsPlayed:
    """A part as it is played.

    Args:
        order: its measures, in the order in which they are played.
        starts: their ticks, and the end.
        tempos: tick, and µs a quarter.
    """

    def __init__(
        self, part: ScorePart, order: Sequence[int], starts: Sequence[int], tempos: Sequence[tuple[int, int]]
    ) -> None:
        self.part = part
        self.end = starts[-1]
        self._tempos = tempos
        self._spelled: dict[tuple[int, int], int] = {}
        self._signs: dict[tuple[int, int], Sign] = {}
        self._words: list[Words] = []
        self._struck: list[list[int]] = []  # [onset, end, pitch]
        self._strings: dict[str, list[int]] = {}  # string -> when it is struck
        self._ringing: list[tuple[int, str]] = []  # (note, string) of those that are to ring
        self._damped: list[int] = []  # moments of damp signs
        self._tied: dict[tuple[int, int], tuple[int, str]] = {}  # (pitch, where it ends) -> note, voice
        self._before = 0  # when the last note but grace notes was struck
        self._usual = NO_SIGN  # how notes end until words say otherwise
        for index, start in zip(order, starts, strict=False):
            if index < len(part.measures):
                self._measure(part.measures[index], start)
        self._let_ring()

    def _measure(self, measure: Measure, start: int) -> None:
        self._damped += [start + at for at in measure.damped]
        self._words += [words._replace(tick=start + words.tick) for words in measure.words]
        said = [(words.tick, ending) for words in measure.words if (ending := ending_of(words.text))]
        delayed: dict[tuple[str, int], int] = {}
        for note in sorted(measure.notes, key=lambda one: (one.at, one.grace == 0)):
            ends = self._usual
            for at, (sign, lasting) in said:
                if lasting and at <= note.at:
                    self._usual = ends = sign
                elif at == note.at:
                    ends = sign
            onset = start + note.at
            if note.grace:
                onset, end = self._grace(note, onset, delayed)
            else:
                end = onset + note.length
                if onset > self._before and not delayed:
                    self._before = onset
                late = delayed.get((note.voice, note.at), 0)
                onset += min(late, max(0, note.length - 1))
            self._strike(note, onset, end, note.signs | ends)
        for _, (sign, lasting) in said:
            self._usual = sign if lasting else self._usual

    def _grace(self, note: ScoreNote, onset: int, delayed: dict[tuple[str, int], int]) -> tuple[int, int]:
        """When a grace note before the moment `onset` begins and ends; notes that wait for it go into `delayed`."""
        found = bisect_right(self._tempos, onset, key=itemgetter(0)) - 1
        step = int(GRACE * 1_000_000 * TICKS / (self._tempos[found][1] if found >= 0 else 500_000))
        if onset == 0:
            # Nothing comes before the first note, so it has to wait for them.
            delayed[note.voice, note.at] = onset = step * note.of
        else:
            step = min(step, max(1, (onset - self._before) // (note.of + 1)))
        begin = onset - step * (note.of + 1 - note.grace)
        return begin, onset if note.tied & 2 else begin + step

    def _strike(self, note: ScoreNote, onset: int, end: int, signs: Sign) -> None:
        part = self.part
        key = onset, note.pitch
        # Two voices may tie one pitch, so it stays there. Some programs leave out the end of a tie.
        known, voice = self._tied.get((note.pitch, onset), (-1, ""))
        if known < 0 or not (note.tied & 1 or note.voice == voice):
            known = len(self._struck)
            self._struck.append([onset, end, note.pitch])
            self._strings.setdefault(note.string, []).append(onset)
            if note.fifth is not None and self._spelled.setdefault(key, note.fifth) != note.fifth:
                part.doubled += 1
        else:
            self._struck[known][1] = max(end, self._struck[known][1])
            key = self._struck[known][0], note.pitch
        if signs:
            self._signs[key] = self._signs.get(key, NO_SIGN) | signs
        if note.tied & 2:
            self._tied[note.pitch, end] = known, note.voice
        if signs & Sign.RINGS:
            self._ringing.append((known, note.string))

    def _let_ring(self) -> None:
        self._damped.sort()
        for onsets in self._strings.values():
            onsets.sort()
        for number, string in self._ringing:
            note = self._struck[number]
            ends = [self.end]
            for moments in (self._strings[string], self._damped):
                found = bisect_right(moments, note[0])
                ends += moments[found : found + 1]
            note[1] = max(note[1], min(ends))
        # A damp sign silences at once what ends there, as étouffé does.
        silenced = set(self._damped)
        for onset, end, pitch in self._struck:
            if end in silenced:
                self._signs[onset, pitch] = self._signs.get((onset, pitch), NO_SIGN) | Sign.DAMPED

    def packed(self) -> array[int]:
        """The messages of a track: releases before strikes of one moment, but each after its own strike."""
        found: list[tuple[int, int, int]] = []
        if self.part.program is not None:
            found.append((0, -1, packed(0, PROGRAM, self.part.program, 0)))
        for onset, end, pitch in self._struck:
            onset = max(0, onset)
            found.append((onset, 1, packed(onset, NOTE_ON, pitch, 64)))
            end = max(end, onset + 1)
            found.append((end, 0, packed(end, NOTE_OFF, pitch, 0)))
        return array("Q", (word for _, _, word in sorted(found)))

    def written(self) -> Written:
        """What the score says beyond that."""
        words = tuple(sorted(self._words, key=lambda words: words.tick))
        return Written(self._spelled, self._signs, words, self.part.doubled)


def ending_of(text: str) -> tuple[Sign, bool] | None:
    """How words say that notes end (NO_SIGN: as usual), and whether for all that follow; None where they do not say."""
    lasting = _LASTING.search(text) is not None
    if _RINGS.search(text):
        return Sign.RINGS, lasting
    if _DAMPED.search(text):
        return Sign.DAMPED, lasting
    return (NO_SIGN, True) if _ORDINARY.search(text) else None
