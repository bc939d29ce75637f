"""The MusicXML 4.0 schema, from an installed package; nothing is fetched."""

from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from lxml import etree

_XLINK = """<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema"
  targetNamespace="http://www.w3.org/1999/xlink">
  <xs:attribute name="href" type="xs:anyURI"/><xs:attribute name="type" type="xs:string"/>
  <xs:attribute name="role" type="xs:string"/><xs:attribute name="title" type="xs:string"/>
  <xs:attribute name="show" type="xs:string"/><xs:attribute name="actuate" type="xs:string"/>
</xs:schema>"""
_XML = """<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema"
  targetNamespace="http://www.w3.org/XML/1998/namespace">
  <xs:attribute name="lang" type="xs:language"/><xs:attribute name="space" type="xs:NCName"/>
</xs:schema>"""


class _Local(etree.Resolver):
    """Answers for the two schemas that MusicXML's own names by their addresses."""

    def resolve(self, system_url: str | None, public_id: str | None, context: Any) -> Any:
        address = system_url or ""
        if address.endswith("xlink.xsd"):
            return self.resolve_string(_XLINK, context)
        if address.endswith("xml.xsd"):
            return self.resolve_string(_XML, context)
        return super().resolve(system_url, public_id, context)


def schema_path() -> Path:
    """Where the schema lies."""
    found = find_spec("musicxml")
    if found is None or found.origin is None:
        raise LookupError("the package 'musicxml' is not installed; it carries the schema")
    return next(Path(found.origin).parent.rglob("musicxml_4_0.xsd"))


@lru_cache(maxsize=1)
def musicxml_schema() -> etree.XMLSchema:
    """The schema, compiled once."""
    parser = etree.XMLParser(no_network=True)
    parser.resolvers.add(_Local())
    return etree.XMLSchema(etree.parse(str(schema_path()), parser))


def schema_faults(raw: bytes) -> list[str]:
    """What the schema has against a score, one line each; empty for a valid one."""
    parser = etree.XMLParser(no_network=True, load_dtd=False, resolve_entities=False)
    schema = musicxml_schema()
    if schema.validate(etree.fromstring(raw, parser).getroottree()):
        return []
    return [f"line {entry.line}: {entry.message}" for entry in schema.error_log]
