"""The MusicXML 4.0 schema, from the test-only package `musicxml`, ready to check documents."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import musicxml
from lxml import etree

_SCHEMA = Path(musicxml.__file__).parent / "generate_classes" / "musicxml_4_0.xsd"

_XS = (
    '<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" targetNamespace="{space}">'
    "{rows}</xs:schema>"
)
_ROW = '<xs:attribute name="{name}" type="xs:{kind}"/>'
_XLINK = _XS.format(
    space="http://www.w3.org/1999/xlink",
    rows="".join(
        _ROW.format(name=name, kind="string")
        for name in ("href", "type", "role", "title", "show", "actuate")
    ),
)
_XML = _XS.format(
    space="http://www.w3.org/XML/1998/namespace",
    rows=_ROW.format(name="lang", kind="language") + _ROW.format(name="space", kind="string"),
)


class _Local(etree.Resolver):
    """Answers the schema's two remote imports from here, so that no test asks the network."""

    def resolve(self, url: str | None, public_id: str | None, context: object) -> object:
        """Return the imported schema a name stands for."""
        name = (url or "").rsplit("/", 1)[-1]
        known = {"xlink.xsd": _XLINK, "xml.xsd": _XML}
        return self.resolve_string(known[name], context) if name in known else None


@cache
def _schema() -> etree.XMLSchema:
    parser = etree.XMLParser(no_network=True)
    parser.resolvers.add(_Local())
    return etree.XMLSchema(etree.parse(str(_SCHEMA), parser))


def faults(document: str) -> list[str]:
    """Return what the schema finds wrong with a document, empty for a valid one."""
    parser = etree.XMLParser(no_network=True, load_dtd=False)
    schema = _schema()
    schema.validate(etree.fromstring(document.encode(), parser))
    return [f"line {error.line}: {error.message}" for error in schema.error_log]
