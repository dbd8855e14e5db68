"""XML from a stranger, read in bounded time and memory and without asking anybody else.

Only elements, attributes and text are kept. A document that declares entities is refused (none of
the formats read here needs them, and they are how a short file becomes a huge one); a named
document type is passed over and never fetched.
"""

from __future__ import annotations

from pathlib import Path
from typing import NoReturn
from xml.etree.ElementTree import Element, TreeBuilder
from xml.parsers import expat

from trainer.errors import BadInput
from trainer.plain_file import read_bytes

MAX_BYTES = 64 * 2**20
MAX_ELEMENTS = 2_000_000
MAX_DEPTH = 64


def read_xml(source: Path | str | bytes) -> Element:
    """Return the root element of a file, or of the bytes of one.

    Raises BadInput, without the file's name, for what cannot be opened, is no XML (the message
    names the line), is too large or too deep, or declares entities.
    """
    data = source if isinstance(source, bytes) else read_bytes(Path(source), MAX_BYTES)
    if data[:2] == b"PK":
        raise BadInput("this is a compressed file", mend="save it uncompressed, as .musicxml")
    if len(data) > MAX_BYTES:
        raise BadInput(f"the file is larger than {MAX_BYTES // 2**20} MB", mend="split it")
    return _Builder().build(data)


class _Builder:
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
                mend="export the file again",
            ) from error
        except (ValueError, LookupError) as error:
            raise BadInput("the file is in an unknown encoding", mend="save it in UTF-8") from error
        return self.tree.close()

    def _start(self, tag: str, attributes: dict[str, str]) -> None:
        self.elements += 1
        self.depth += 1
        if self.elements > MAX_ELEMENTS:
            self._refuse(f"the file has more than {MAX_ELEMENTS:,} elements", "split it")
        if self.depth > MAX_DEPTH:
            self._refuse("the file is nested too deep", "export the file again")
        self.tree.start(tag, attributes)

    def _end(self, tag: str) -> None:
        self.depth -= 1
        self.tree.end(tag)

    def _entity(self, *_: object) -> None:
        self._refuse("the file declares entities, which are not read", "export the file again")

    def _refuse(self, what: str, mend: str) -> NoReturn:
        raise BadInput(what, where=f"line {self.parser.CurrentLineNumber}", mend=mend)
