"""Damaged and hostile scores, seeded: cut short, bytes and tags changed, archives and entities that swell, wrong nesting."""

from __future__ import annotations

import io
import random
import re
import zipfile
from collections.abc import Callable

from tests.sources.scores.making import CONTAINER, HEAD, attributes, note, notes, packed, score, words

MEGABYTE = 1 << 20


def seed_score() -> bytes:
    bar = notes("C4 E4 G4 C5") + words("Mi b")
    return score(*([bar, note("Db4", 4, notations="<fermata/>")] * 8))


def cut(rng: random.Random) -> bytes:
    data = seed_score() if rng.random() < 0.5 else packed(seed_score())
    return data[: rng.randrange(len(data))]


def changed_bytes(rng: random.Random) -> bytes:
    data = bytearray(seed_score() if rng.random() < 0.5 else packed(seed_score()))
    for _ in range(rng.randint(1, 20)):
        data[rng.randrange(len(data))] = rng.randrange(256)
    return bytes(data)


def changed_numbers(rng: random.Random) -> bytes:
    """Numbers that no score has where numbers stand."""
    strange = ["-1", "0", "99999999999999999999", "1e9", "NaN", "½", "", "1/0", "0.0000001", "٣"]
    data = seed_score().decode()
    return re.sub(
        r">\d+<", lambda match: f">{rng.choice(strange)}<" if rng.random() < 0.1 else match[0], data
    ).encode()


def wrong_nesting(rng: random.Random) -> bytes:
    """Tags taken out, doubled, or put elsewhere."""
    tags = re.split(r"(<[^>]+>)", seed_score().decode())
    for _ in range(rng.randint(1, 6)):
        at, to = rng.randrange(len(tags)), rng.randrange(len(tags))
        tags[at], tags[to] = rng.choice([("", tags[to]), (tags[to], tags[at]), (tags[at] * 2, tags[to])])
    return "".join(tags).encode()


def elements_elsewhere(rng: random.Random) -> bytes:
    """Well-formed, but whole elements stand where they do not belong, or are called otherwise."""
    names = [
        "note",
        "measure",
        "part",
        "pitch",
        "duration",
        "backup",
        "attributes",
        "barline",
        "direction",
        "score-part",
    ]
    one, other = rng.sample(names, 2)
    return re.sub(rf"(</?){one}\b", rf"\g<1>{other}", seed_score().decode()).encode()


def entity_bomb(rng: random.Random) -> bytes:
    """Ten entities, each ten of the one before ("billion laughs"), or one from outside."""
    if rng.random() < 0.3:
        return b'<!DOCTYPE s [<!ENTITY x SYSTEM "file:///etc/passwd">]><score-partwise>&x;</score-partwise>'
    rows = '<!ENTITY e0 "ferry">' + "".join(
        f'<!ENTITY e{n} "{f"&e{n - 1};" * 10}">' for n in range(1, rng.randint(5, 12))
    )
    return f"{HEAD}<!DOCTYPE s [{rows}]><score-partwise><work>&e4;</work></score-partwise>".encode()


def zip_bomb(rng: random.Random) -> bytes:
    """Up to 200 MB of one byte; or an archive in itself; or one that says that it is small."""
    kind = rng.randrange(3)
    filler = b"<score-partwise><part id='P1'><measure>" + rng.choice([b" ", b"<a/>", b"<note/>"]) * (
        rng.randint(5, 25) * MEGABYTE
    )
    if kind == 0:
        return packed(filler)
    if kind == 1:
        return packed(packed(filler), "inside.mxl")
    data = packed(filler[:MEGABYTE])
    return data.replace(MEGABYTE.to_bytes(4, "little"), (100).to_bytes(4, "little"))


def broken_archive(rng: random.Random) -> bytes:
    """The score named but not there, named by a path that leads out, twice, encrypted, or thousands of files."""
    kind = rng.randrange(4)
    if kind == 0:
        return packed(seed_score(), container=CONTAINER.format(path="../../etc/passwd"))
    if kind == 1:
        out = io.BytesIO()
        with zipfile.ZipFile(out, "w") as archive:
            for number in range(3000):
                archive.writestr(f"{number}.xml", b"")
        return out.getvalue()
    data = bytearray(packed(seed_score()))
    for at in [found.start() for found in re.finditer(rb"PK\x01\x02", bytes(data))]:
        data[at + 8 if kind == 2 else at + 10] ^= (
            1 if kind == 2 else 99
        )  # encrypted; an unknown way of packing
    return bytes(data)


def much(rng: random.Random) -> bytes:
    """Megabytes that are a score, or nearly."""
    kind = rng.randrange(6)
    head = f'{HEAD}<score-partwise><part-list/><part id="P1"><measure number="1">{attributes()}'
    end = "</measure></part></score-partwise>"
    if kind == 0:
        return (head + notes("C4") * 150_000 + end).encode()
    if kind == 1:
        return (head + "<a>" * 300_000).encode()
    if kind == 2:
        return (head + "<note " + "x" * 5 * MEGABYTE + end).encode()
    if kind == 3:
        return (head + "<words>" + "x" * 20 * MEGABYTE + "</words>" + end).encode()
    if kind == 4:
        return (head + "<a " + " ".join(f'b{n}=""' for n in range(400_000)) + "/>" + end).encode()
    bar = f'<measure number="9">{notes("C4 D4 E4 F4")}<barline><repeat direction="backward" times="100"/></barline></measure>'
    return (head + "</measure>" + bar * 20_000 + "</part></score-partwise>").encode()


DAMAGES: tuple[Callable[[random.Random], bytes], ...] = (
    cut,
    changed_bytes,
    changed_numbers,
    wrong_nesting,
    elements_elsewhere,
    entity_bomb,
    zip_bomb,
    broken_archive,
    much,
)
