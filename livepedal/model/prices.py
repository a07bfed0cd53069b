"""What a path through the music costs, in one number.

It is made of parts, each worth more than all that the one before can come to: whatever saves a change is better than
whatever saves notches.
"""

from __future__ import annotations

PART = 1 << 24
READS = 1  # how badly the spelling reads (chords.py)
NOTCH = READS * PART
CHANGE = NOTCH * PART
TIGHT = CHANGE * PART  # a change that the relaxed player could not make in time
AUDIBLE = TIGHT * PART
IMPOSSIBLE = AUDIBLE * PART  # an attack that is not played as it should
NEVER = 1 << 1024  # a price that nobody pays
