"""A MusicXML file taken apart: the bytes of its document, and its measures one by one.

A MusicXML 4.0 (W3C) document is `score-partwise` (parts with measures) or `score-timewise` (measures with parts), plain
or, as `.mxl`, in a zip archive whose META-INF/container.xml names it. Either way an element of the third level is one
measure of one part. It is handed on and dropped at once, so a score takes no more memory than its notes.

A file may come from anywhere, so these are bounded before anything is built: the size of the document, how far an
archive swells, nesting, the elements in one measure, the length of one token. A document that declares entities is
refused: no notation program writes any, and they can turn a few bytes into gigabytes or read files of this machine.
"""

from __future__ import annotations

import io
import zipfile
import zlib
from collections.abc import Iterator
from typing import NamedTuple
from xml.etree.ElementTree import Element, TreeBuilder
from xml.parsers import expat

from livepedal.sources.raw import Refused
from livepedal.sources.text import clean

MAX_DOCUMENT = 48 * 1024 * 1024  # bytes; a long opera act for full orchestra has about 40 million
MAX_SWELLING = 200  # times; notation programs' archives swell 15 to 40 times
MAX_ENTRIES = 2000  # in an archive: pictures and sound files may lie beside the score
MAX_DEPTH = 40  # elements in one another; MusicXML 4.0 has about 12
MAX_ELEMENTS = 100_000  # in one measure of one part
MAX_TOKEN = 1024 * 1024  # bytes: a tag with its attributes
AT = "livepedal at"  # no name that XML allows
_CHUNK = 64 * 1024
_SMALL = 64 * 1024  # what an archive may hold of a document, however much it swells

# Elements that only say how notes look: they are skipped with all that is in them.
_LOOKS = frozenset(
    [
        "lyric",
        "beam",
        "stem",
        "notehead",
        "print",
        "harmony",
        "figured-bass",
        "dynamics",
        "slur",
        "defaults",
        "credit",
    ]
)


class Unit(NamedTuple):
    """An element of the second level, or one measure of a part.

    Attributes:
        part: the part's id; "" for an element of the second level.
        measure: the attributes of the measure.
        element: `measure`, or `part` in a timewise document.
    """

    part: str
    measure: dict[str, str]
    element: Element


def is_score(data: bytes) -> bool:
    """Whether these bytes are to be read as a score and not as MIDI: an archive, or text that begins with a tag."""
    head = data[:256]
    if head.startswith(b"PK\x03\x04"):
        return True
    return head.removeprefix(b"\xef\xbb\xbf").lstrip()[:1] == b"<" or head.startswith(
        (b"\xff\xfe<\0", b"\xfe\xff\0<", b"<\0?\0", b"\0<\0?")
    )


def document(data: bytes) -> bytes:
    """The MusicXML document of a file.

    Raises:
        Refused: where there is none, or it is too large.
    """
    if data.startswith(b"PK\x03\x04"):
        try:
            data = _unpacked(data)
        except (
            zipfile.BadZipFile,
            zlib.error,
            EOFError,
            NotImplementedError,
            RuntimeError,
            ValueError,
            OSError,
        ):
            raise Refused("is a damaged archive; export or copy it again.") from None
    if len(data) > MAX_DOCUMENT:
        raise Refused(
            f"holds more than {MAX_DOCUMENT // 1024 // 1024} MB, which is too large; export only the harp's part."
        )
    return data


def rootfile(archive: zipfile.ZipFile) -> zipfile.ZipInfo:
    """The score in an archive: the first rootfile that its container names (MusicXML 4.0, "Compressed .mxl files").

    Raises:
        Refused: it names none.
    """
    if len(archive.infolist()) > MAX_ENTRIES:
        raise Refused(
            f"is an archive of more than {MAX_ENTRIES} files, not a score; export it again as MusicXML."
        )
    try:
        container = archive.getinfo("META-INF/container.xml")
    except KeyError:
        raise Refused(
            "is an archive without META-INF/container.xml, so it is not a score; export it again as MusicXML."
        ) from None
    for unit in units(_entry(archive, container)):
        for found in unit.element.iter("rootfile"):
            try:
                return archive.getinfo(found.get("full-path", ""))
            except KeyError:
                name = clean(found.get("full-path", ""), 80)
                raise Refused(
                    f"is an archive without the score that it names ({name}); export it again."
                ) from None
    raise Refused("is an archive that names no score; export it again as MusicXML.")


def _unpacked(data: bytes) -> bytes:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        return _entry(archive, rootfile(archive))


def _entry(archive: zipfile.ZipFile, entry: zipfile.ZipInfo) -> bytes:
    most = min(MAX_DOCUMENT, max(_SMALL, MAX_SWELLING * entry.compress_size))
    with archive.open(entry) as stream:
        data = stream.read(most + 1)
    if len(data) > most:
        raise Refused("unpacks to far more than any score; export it again as MusicXML.")
    return data


def units(data: bytes, encoding: str | None = None, places: bool = False) -> Iterator[Unit]:
    """The elements of a document's second level, and its measures, in order; first the root, as an empty element.

    Args:
        data: the document.
        encoding: of the bytes, whatever the document says.
        places: give each child of a measure the byte where it begins as an attribute AT, and the measure the byte of
            its end tag.

    Raises:
        Refused: it is no MusicXML, or damaged, or beyond what is read.
    """
    parser = expat.ParserCreate(encoding)
    parser.buffer_text = True
    builder = _Builder(parser if places else None)
    parser.StartElementHandler = builder.start
    parser.EndElementHandler = builder.end
    parser.CharacterDataHandler = builder.text
    parser.EntityDeclHandler = _no_entities
    try:
        for at in range(0, len(data), _CHUNK):
            chunk = data[at : at + _CHUNK]
            parser.Parse(chunk, False)
            if at + len(chunk) - parser.CurrentByteIndex > MAX_TOKEN:
                raise Refused("has a tag longer than any score needs, so it is damaged; export it again.")
            yield from builder.take()
        parser.Parse(b"", True)
    except expat.ExpatError as error:
        what = clean(expat.ErrorString(error.code) or "unknown", 80)
        raise Refused(
            f"is damaged in line {error.lineno} ({what}) or is not MusicXML; export it again."
        ) from None
    except LookupError:
        raise Refused("is in an unknown encoding; export it again as UTF-8.") from None
    yield from builder.take()


def _no_entities(*_: object) -> None:
    raise Refused("declares entities, which no score needs; export it again as MusicXML.")


class _Builder:
    """Builds the elements of one measure at a time. Called by the parser."""

    def __init__(self, parser: expat.XMLParserType | None) -> None:
        self._parser = parser  # where places are wanted
        self._done: list[Unit] = []
        self._depth = 0
        self._passed_over = 0  # depth inside an element that says nothing about what is played
        self._count = 0
        self._tree: TreeBuilder | None = None
        self._outer: dict[str, str] = {}
        self._outer_tag = ""
        self._inner: dict[str, str] = {}

    def take(self) -> list[Unit]:
        done, self._done = self._done, []
        return done

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        self._depth += 1
        self._count += 1
        if self._depth > MAX_DEPTH:
            raise Refused("has elements nested deeper than any score, so it is damaged; export it again.")
        if self._count > MAX_ELEMENTS:
            raise Refused(
                f"has more than {MAX_ELEMENTS:,} elements in one measure, so it is not a score; export it again."
            )
        if self._depth == 1:
            if tag not in ("score-partwise", "score-timewise", "container"):
                raise Refused(
                    f"is XML but not a MusicXML score (it begins with <{clean(tag, 40)}>); export it as MusicXML."
                )
            self._done.append(Unit("", {}, Element(tag)))
            self._count = 0
            return
        if self._passed_over or tag in _LOOKS:
            self._passed_over += 1
            return
        if self._depth == 2:
            self._outer, self._outer_tag = attributes, tag
            self._count = 0
            if tag in ("part", "measure"):
                return
        if self._depth == 3 and self._outer_tag in ("part", "measure"):
            self._inner = attributes
            self._count = 0
        if self._tree is None:
            self._tree = TreeBuilder()
        if self._parser is not None and self._depth == 4:
            attributes[AT] = str(self._parser.CurrentByteIndex)
        self._tree.start(tag, attributes)

    def text(self, data: str) -> None:
        if self._tree is not None and not self._passed_over:
            self._tree.data(data)

    def end(self, tag: str) -> None:
        self._depth -= 1
        if self._passed_over:
            self._passed_over -= 1
            return
        if self._tree is None:
            return
        self._tree.end(tag)
        whole = self._outer_tag in ("part", "measure")
        if self._depth == (2 if whole else 1):
            element, self._tree = self._tree.close(), None
            if self._parser is not None:
                element.set(AT, str(self._parser.CurrentByteIndex))
            if not whole:
                self._done.append(Unit("", {}, element))
            elif self._outer_tag == "part":
                self._done.append(Unit(self._outer.get("id", ""), self._inner, element))
            else:
                self._done.append(Unit(self._inner.get("id", ""), self._outer, element))
