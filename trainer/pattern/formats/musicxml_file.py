"""A MusicXML file opened: the XML of a stranger, plain or compressed, in bounded time and memory.

Only elements, attributes and text are kept, and nothing is fetched. A document that declares
entities is refused: no format read here needs them, and they are how a short file becomes a huge
one. A named document type is skipped.

A compressed file (.mxl) is a zip archive whose META-INF/container.xml names the score in it
(MusicXML 4.0, "Compressed .MXL files"). Nothing of it is written to disk. What a file is shows in
its first bytes, so the ending of its name does not matter.
"""

from __future__ import annotations

import zlib
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn
from xml.etree.ElementTree import Element, TreeBuilder
from xml.parsers import expat
from zipfile import ZIP_DEFLATED, ZIP_STORED, BadZipFile, ZipFile, ZipInfo

from trainer.errors import BadInput
from trainer.file_system import read_bytes

if TYPE_CHECKING:
    from collections.abc import Sequence

MAX_BYTES = 64 * 2**20
MAX_ELEMENTS = 2_000_000
MAX_DEPTH = 64

MAX_MEMBERS = 1_000
"""Files in an archive: a score, its container, and pictures."""

MAX_RATIO = 200
"""How many times its packed size a score may have. Scores of our own and of other programs have
some 20 to 80; what has more is made to fill the memory.
"""

FREE_BYTES = 2**20
"""A score up to this size may be packed as tightly as it likes."""

_ARCHIVE = b"PK\x03\x04"
_MEMBER = b"PK\x01\x02"
_CONTAINER = "META-INF/container.xml"
_SCORE_TYPES = ("", "application/vnd.recordare.musicxml+xml")
_EXPORT = "export the file again"


def read_score(source: Path | str | bytes) -> Element:
    """Return the root element of a file, or of the bytes of one.

    Raises BadInput, without the file's name, for what cannot be opened, is no XML (the message
    names the line), is too large or too deep, declares entities, or is no archive of a score.
    """
    data = source if isinstance(source, bytes) else read_bytes(Path(source), MAX_BYTES)
    if data.startswith(_ARCHIVE):
        data = _unpacked(data)
    if len(data) > MAX_BYTES:
        raise BadInput(f"the file is larger than {MAX_BYTES // 2**20} MB", fix="split it")
    return _XmlBuilder().build(data)


def _unpacked(data: bytes) -> bytes:
    """Return the score in an archive."""
    if data.count(_MEMBER) > MAX_MEMBERS:
        raise BadInput(f"the archive holds more than {MAX_MEMBERS:,} files", fix=_EXPORT)
    try:
        with ZipFile(BytesIO(data)) as archive:
            return _member(archive, _score_name(archive))
    except (BadZipFile, zlib.error, EOFError, OSError, RuntimeError, ValueError) as error:
        raise BadInput("the archive is damaged", fix=_EXPORT) from error


def _score_name(archive: ZipFile) -> str:
    """Return the name of the score in an archive: what its container says, else the only one."""
    names = archive.namelist()
    named: list[str] = []
    if _CONTAINER in names:
        container = _XmlBuilder().build(_member(archive, _CONTAINER))
        named = [
            one.get("full-path", "")
            for one in container.iter("rootfile")
            if one.get("media-type", "") in _SCORE_TYPES
        ]
    found = named or _scores(names)
    if not found:
        raise BadInput("the archive holds no score", fix=_EXPORT)
    if found[0].startswith(("/", "\\")) or ".." in found[0].replace("\\", "/").split("/"):
        raise BadInput("the archive names a score outside of itself", fix=_EXPORT)
    if found[0] not in names:
        raise BadInput("the archive lacks the score it names", fix=_EXPORT)
    return found[0]


def _scores(names: Sequence[str]) -> list[str]:
    return [
        name
        for name in names
        if name.lower().endswith((".musicxml", ".xml")) and not name.startswith("META-INF")
    ]


def _member(archive: ZipFile, name: str) -> bytes:
    """Return one file of an archive, read no further than its bound."""
    info = archive.getinfo(name)
    if info.flag_bits & 1 or info.compress_type not in (ZIP_STORED, ZIP_DEFLATED):
        raise BadInput("the archive is locked or packed in a way of its own", fix=_EXPORT)
    most = _most_bytes(info)
    with archive.open(info) as file:
        data = file.read(most + 1)
    if len(data) > most:
        raise BadInput("the archive unpacks to more than a score can be", fix="split it")
    return data


def _most_bytes(info: ZipInfo) -> int:
    return min(MAX_BYTES, max(FREE_BYTES, MAX_RATIO * info.compress_size))


class _XmlBuilder:
    """Feeds a document through expat, counting."""

    def __init__(self) -> None:
        self.tree = TreeBuilder()
        self.elements = self.depth = 0
        self.parser = expat.ParserCreate()
        self.parser.buffer_text = True
        self.parser.StartElementHandler = self._start
        self.parser.EndElementHandler = self._end
        self.parser.CharacterDataHandler = self.tree.data
        self.parser.EntityDeclHandler = self._entity

    def build(self, data: bytes) -> Element:
        try:
            self.parser.Parse(data, True)
        except expat.ExpatError as error:
            raise BadInput(
                f"this is no XML ({expat.ErrorString(error.code)})",
                where=f"line {error.lineno}",
                fix=_EXPORT,
            ) from error
        except (ValueError, LookupError) as error:
            raise BadInput("the file is in an unknown encoding", fix="save it in UTF-8") from error
        return self.tree.close()

    def _start(self, tag: str, attributes: dict[str, str]) -> None:
        self.elements += 1
        self.depth += 1
        if self.elements > MAX_ELEMENTS:
            self._refuse(f"the file has more than {MAX_ELEMENTS:,} elements", "split it")
        if self.depth > MAX_DEPTH:
            self._refuse("the file is nested too deep", _EXPORT)
        self.tree.start(tag, attributes)

    def _end(self, tag: str) -> None:
        self.depth -= 1
        self.tree.end(tag)

    def _entity(self, *_: object) -> None:
        self._refuse("the file declares entities, which are not read", _EXPORT)

    def _refuse(self, what: str, fix: str) -> NoReturn:
        raise BadInput(what, where=f"line {self.parser.CurrentLineNumber}", fix=fix)
