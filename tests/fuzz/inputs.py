"""MIDI files that nobody would write: seeds, mutations of them, and shapes that try to cost much for their size.

A mutation knows how a file is laid out (chunks, their lengths, events), since bytes changed blindly hardly ever
get past the header. The shapes are of up to a megabyte, each made to be read as slowly, or to take as much
memory, as one could think of.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable, Sequence

from tests.places import RECORDINGS

MEGABYTE = 1 << 20

END = b"\0\xff\x2f\0"
HARP = b"\0\xff\x03\4Harp"
PROGRAM = b"\0\xc0\x2e"
NOTE = b"\0\x90\x3c\x40\x60\x3c\0"

# What a byte is changed to: the edges of data, status, lengths and names of meta events.
_EDGES = bytes.fromhex(
    "00 01 03 04 06 20 21 2F 40 51 58 59 7B 7F 80 81 8F 90 99 9F B0 BF C0 D0 E0 F0 F2 F7 F8 FE FF"
)


def number(value: int) -> bytes:
    """A variable-length number (SMF 1.0), of as many bytes as it takes."""
    made = [value & 0x7F]
    while value := value >> 7:
        made.append(0x80 | value & 0x7F)
    return bytes(reversed(made))


def meta(kind: int, data: bytes, delta: int = 0) -> bytes:
    """A meta event with the time before it."""
    return number(delta) + bytes((0xFF, kind)) + number(len(data)) + data


def chunk(kind: bytes, body: bytes) -> bytes:
    return kind + len(body).to_bytes(4, "big") + body


def file(tracks: Sequence[bytes], kind: int = 1, division: int = 480) -> bytes:
    """A whole file. tracks: the bytes of each, without the event that ends it."""
    head = b"".join(value.to_bytes(2, "big") for value in (kind, min(len(tracks), 0xFFFF), division))
    return chunk(b"MThd", head) + b"".join(chunk(b"MTrk", track + END) for track in tracks)


def riff(data: bytes) -> bytes:
    """The file in a RIFF wrapper (RP-029)."""
    body = b"RMID" + b"data" + len(data).to_bytes(4, "little") + data
    return b"RIFF" + len(body).to_bytes(4, "little") + body


def seeds() -> list[bytes]:
    """The recordings, and small files that each hold something that those do not."""
    made = [path.read_bytes() for path in sorted(RECORDINGS.glob("*.mid"))]
    head = meta(0x51, b"\x07\xa1\x20") + meta(0x58, b"\4\2\x18\x08") + meta(0x59, b"\xfd\0")
    music = HARP + PROGRAM + NOTE * 3
    made += [
        file([head + music], kind=0),
        file([head, music, music]),
        file([music, music], kind=2),
        file([head + music], division=0xE728),
        riff(file([music])),
        file([music])[:14] + chunk(b"XFIH", b"abc") + file([music])[14:],
        file([PROGRAM + b"\0\x90\x3c\x40\x00\xf0\x01\xf7\x10\x3e\x40\x10\x3c\x00\x00\xf8\x00\x3e\x00"]),
        file([b"\0\xff\x20\1\3" + HARP + b"\0\x93\x3c\x40\x10\x3c\0" + b"\0\x99\x24\x40\x10\x24\0"], kind=0),
        file([meta(0x21, b"\1") + PROGRAM, meta(0x21, b"\1") + NOTE]),
        file([HARP + b"\0\xb0\x40\x7f" + NOTE + b"\0\xb0\x40\0\0\xb0\x7b\0" + NOTE]),
        file([meta(3, b"Harp LH") + NOTE, meta(3, b"Harp RH") + NOTE, meta(3, b"Harp (off)") + NOTE]),
        file([HARP + NOTE, HARP + NOTE, HARP + NOTE + NOTE]),
        file([HARP + meta(6, b"A") + NOTE + meta(6, b"B", 480) + meta(0x58, b"\7\3\x18\x08", 7) + NOTE]),
        file([HARP + b"\0\xb0\x07\0" + NOTE, meta(4, "Árpa".encode("latin-1")) + NOTE]),
        file([HARP + number(0x0FFF_FFFF) + NOTE[1:]]),
    ]
    return made


# -- mutations ---------------------------------------------------------------------------------------------------


def _event(rng: random.Random) -> bytes:
    """Some event, mostly a legal one."""
    delta = number(rng.choice((0, 0, 0, 1, 15, 96, 480, 0x3FFF, 0x0FFF_FFFF)))
    channel = rng.choice((0, 0, 0, 1, 9, 15))
    match rng.randrange(14):
        case 0 | 1 | 2:
            return delta + bytes((0x90 | channel, rng.randrange(128), rng.choice((0, 1, 64, 127))))
        case 3:
            return delta + bytes((0x80 | channel, rng.randrange(128), 64))
        case 4:
            return delta + bytes(
                (0xB0 | channel, rng.choice((7, 64, 120, 121, 123, 127)), rng.choice((0, 63, 64, 127)))
            )
        case 5:
            return delta + bytes((0xC0 | channel, rng.choice((46, 46, 0, 127))))
        case 6:
            return (
                delta + b"\xff\x51\3" + rng.choice((b"\0\0\0", b"\0\0\1", b"\xff\xff\xff", rng.randbytes(3)))
            )
        case 7:
            return (
                delta
                + b"\xff\x58\4"
                + bytes((rng.choice((0, 1, 4, 255)), rng.choice((0, 2, 7, 8, 255))))
                + b"\x18\x08"
            )
        case 8:
            return delta + b"\xff\x59\2" + rng.randbytes(1) + bytes((rng.choice((0, 1, 2)),))
        case 9:
            words = (
                "Harp",
                "Harp LH",
                "Harp (off)",
                "arpa",
                "",
                "x" * 300,
                "\x1b[2J",
                "ハープ",
                "\ufeff",
                "livepedal: x",
            )
            data = rng.choice(words).encode(rng.choice(("utf-8", "utf-16", "latin-1")), "ignore")
            return delta + bytes((0xFF, rng.choice((1, 3, 4, 6)))) + number(len(data)) + data
        case 10:
            return (
                delta
                + bytes((0xFF, rng.choice((0x20, 0x21, 0x2F))))
                + rng.choice((b"\0", b"\1\5", b"\1\xff", b"\2\1\1"))
            )
        case 11:
            return (
                delta
                + rng.choice((b"\xf0", b"\xf7"))
                + number(rng.choice((0, 1, 5, 0x0FFF_FFFF)))
                + rng.randbytes(3)
            )
        case 12:
            return delta + bytes((rng.randrange(0xF1, 0xFF),)) + rng.randbytes(rng.randrange(3))
        case _:
            return rng.randbytes(rng.randrange(1, 9))


def _chunks(data: bytes) -> list[tuple[bytes, bytes]]:
    """The chunks as far as lengths can be believed; the last one may be cut off."""
    found = []
    at = 0
    while at + 8 <= len(data):
        size = int.from_bytes(data[at + 4 : at + 8], "big")
        found.append((data[at : at + 4], data[at + 8 : at + 8 + size]))
        at += 8 + size
    return found


def _changed(rng: random.Random, data: bytes, others: Sequence[bytes]) -> bytes:
    """The bytes with one thing changed."""
    at = rng.randrange(len(data) + 1)
    match rng.randrange(8):
        case 0 if at < len(data):
            return data[:at] + bytes((data[at] ^ 1 << rng.randrange(8),)) + data[at + 1 :]
        case 1:
            return data[:at] + bytes((rng.choice(_EDGES),)) + data[at + 1 :]
        case 2:
            return data[:at] + data[at + rng.randrange(1, 9) :]
        case 3:
            return data[:at]
        case 4:
            end = min(len(data), at + rng.randrange(1, 40))
            return data[:end] + data[at:end] * rng.randrange(1, 4) + data[end:]
        case 5:
            other = rng.choice(others)
            start = rng.randrange(len(other) + 1)
            return data[:at] + other[start : start + rng.randrange(1, 60)] + data[at:]
        case _:
            return data[:at] + _event(rng) + data[at:]


def mutated(rng: random.Random, data: bytes, others: Sequence[bytes], longest: int = 8192) -> bytes:
    """A file like this one with a few things changed, most often inside a track whose length is put right."""
    for _ in range(rng.choice((1, 1, 2, 3, 5))):
        chunks = _chunks(data)
        what = rng.randrange(12)
        if what < 7 and chunks:
            place = rng.randrange(len(chunks))
            kind, body = chunks[place]
            chunks[place] = kind, _changed(rng, body, others)
        elif what == 7 and chunks:
            chunks.insert(rng.randrange(len(chunks) + 1), rng.choice(chunks))
        elif what == 8 and len(chunks) > 1:
            del chunks[rng.randrange(len(chunks))]
        elif what == 9 and chunks:
            fields = (
                rng.choice((0, 0, 1, 1, 2, 3)),
                rng.choice((0, 1, 2, 65535)),
                rng.choice((0, 1, 96, 480, 32767, 0xE728, 0xE250, 0x8000, 0xFFFF)),
            )
            chunks[0] = (
                b"MThd",
                b"".join(value.to_bytes(2, "big") for value in fields) + rng.randbytes(rng.choice((0, 0, 3))),
            )
        elif what == 10:
            data = rng.choice((riff, lambda data: b"\0" * 128 + data, lambda data: data + rng.randbytes(5)))(
                data
            )
            continue
        else:
            data = _changed(rng, data, others)
            continue
        data = b"".join(chunk(*one) for one in chunks)
    return data[:longest]


# -- shapes ------------------------------------------------------------------------------------------------------


def _full(piece: Callable[[int], bytes], size: int) -> bytes:
    """As many pieces, each made from its number, as there is room for."""
    made, left, at = [], size - 64, 0
    while True:
        one = piece(at)
        if len(one) > left:
            return b"".join(made)
        made.append(one)
        left -= len(one)
        at += 1


def _tracks(body: Callable[[int], bytes], size: int, kind: int = 1) -> bytes:
    count = 0
    left = size - 64
    bodies = []
    while count < 65_535 and (left := left - len(one := body(count)) - 12) > 0:
        bodies.append(one)
        count += 1
    return file(bodies, kind)


def shapes(size: int = MEGABYTE) -> Iterable[tuple[str, bytes]]:
    """(name, file) of each shape, of about this many bytes."""
    rng = random.Random(9)
    sounding = b"".join(
        b"\0" + bytes((0x90 | channel, pitch, 64)) for channel in range(15) for pitch in range(128)
    )
    yield (
        "notes, running status",
        file([HARP + b"\0\x90" + _full(lambda at: bytes((24 + at % 80, 64, 1)), size) + b"\x3c\0"]),
    )
    yield (
        "notes, all at once",
        file([HARP + b"\0\x90" + _full(lambda at: bytes((24 + at % 80, 64, 0)), size) + b"\x3c\0"]),
    )
    yield (
        "one note, over and over at once",
        file([HARP + b"\0\x90\x3c\x40" + _full(lambda at: b"\0\x3c\x40", size)]),
    )
    yield (
        "struck twice and released",
        file([HARP + b"\0\x90" + _full(lambda at: b"\x3c\x40\0\x3c\x40\0\x3c\0\1", size) + b"\x3c\0"]),
    )
    yield (
        "all notes off, others held",
        file([HARP + sounding + b"\1\xbf\x7b\0" + _full(lambda at: b"\1\x7b\0", size - 8000)]),
    )
    yield (
        "all notes off after each note",
        file([HARP + sounding + _full(lambda at: b"\1\x9f\x3c\x40\1\xbf\x7b\0", size - 8000)]),
    )
    yield (
        "sustain up and down",
        file(
            [
                HARP
                + NOTE
                + b"\0\xb0\x40\0"
                + _full(lambda at: b"\1\x40" + b"\x7f\0"[at & 1 : (at & 1) + 1], size)
            ]
        ),
    )
    yield (
        "programs",
        file([_full(lambda at: b"\0\xc0" + bytes((46 - at % 2,)) + b"\0\x90\x3c\x40", size)], kind=0),
    )
    yield "tempos", file([HARP + NOTE + _full(lambda at: meta(0x51, (at + 1).to_bytes(3, "big"), 1), size)])
    yield "tempos that say nothing", file([HARP + NOTE + _full(lambda at: b"\0\xff\x51\0", size)])
    yield "metres", file([HARP + NOTE + _full(lambda at: meta(0x58, bytes((1 + at % 255, at % 8)), 1), size)])
    yield (
        "metres, SMPTE",
        file(
            [
                HARP
                + meta(0x51, b"\x07\xa1\x1f")
                + NOTE
                + _full(lambda at: meta(0x58, bytes((1 + at % 255, at % 8)), 1), size)
            ],
            division=0xE3FD,
        ),
    )
    yield "keys", file([HARP + NOTE + _full(lambda at: meta(0x59, bytes((at % 8, at % 2)), 1), size)])
    yield "markers", file([HARP + NOTE + _full(lambda at: meta(6, b"%d" % at, 1), size)])
    yield "long markers", file([HARP + NOTE + _full(lambda at: meta(6, b"\x1b" * 3300, 1), size)])
    yield "empty names", file([NOTE + _full(lambda at: meta(3, b"\0", 0), size)], kind=0)
    yield (
        "names of 16 channels",
        file(
            [
                b"".join(b"\0" + bytes((0x90 | c, 60, 64)) for c in range(16))
                + _full(lambda at: meta(0x20, bytes((at % 16,))) + meta(3, b"\xe9\x20"), size)
            ],
            kind=0,
        ),
    )
    yield "empty tracks", _tracks(lambda at: b"", size)
    yield (
        "one track that is a harp, many with a note",
        _tracks(lambda at: NOTE + (HARP if at == 0 else b""), size),
    )
    yield "harps, same note", _tracks(lambda at: HARP + NOTE, size)
    yield "harps, each with a note of its own", _tracks(lambda at: HARP + number(at) + NOTE[1:4], size)
    yield "harps, each with another name", _tracks(lambda at: meta(3, b"Harp %d" % at) + NOTE[:4], size)
    yield (
        "hands of one harp",
        _tracks(
            lambda at: (
                meta(3, b"Harp" + b"".join(b" LH" if at >> bit & 1 else b" RH" for bit in range(16)))
                + NOTE[:4]
            ),
            size,
        ),
    )
    yield "pieces of type 2", _tracks(lambda at: NOTE[:4], size, kind=2)
    yield (
        "pieces of type 2, harps with metres",
        _tracks(lambda at: HARP + meta(0x58, b"\3\2") + NOTE[:4], size, kind=2),
    )
    yield (
        "long names",
        _tracks(
            lambda at: (
                meta(
                    3,
                    rng.choice((b"harp_legato l.h.", b"(off", b"jew's ", b"aB", b"\xe9 hp ")) * 60
                    + b"%d" % at,
                )
                + NOTE
            ),
            size,
        ),
    )
    yield "damaged tracks", file([HARP + NOTE]) + _full(lambda at: b"MTrk\0\0\0\1\xff", size)
    yield (
        "unknown chunks of no length",
        file([HARP + NOTE])[:14] + _full(lambda at: b"Abcd\0\0\0\0", size) + file([HARP + NOTE])[14:],
    )
    yield "no chunks", file([HARP + NOTE]) + _full(lambda at: b"MTr\0", size)
    yield "RIFF chunks of no length", b"RIFF\0\0\0\0RMID" + _full(lambda at: b"abcd\0\0\0\0", size)
    yield "system messages", file([HARP + NOTE + _full(lambda at: b"\0\xf8", size)])
    yield "exclusive of no length", file([HARP + NOTE + _full(lambda at: b"\0\xf0\0", size)])
    yield "one long exclusive", file([HARP + NOTE + b"\0\xf0" + number(size - 200) + bytes(size - 200)])
    yield "longest waits", file([HARP + _full(lambda at: b"\xff\xff\xff\x7f\x90\x3c\x40", size)], division=1)
    yield "zeros", bytes(size)
    yield "random bytes", rng.randbytes(size)
    yield "random bytes in a track", file([HARP + NOTE + rng.randbytes(size)])
    yield (
        "random data bytes in a track",
        file([HARP + NOTE + bytes(byte & 0x7F for byte in rng.randbytes(size))]),
    )
