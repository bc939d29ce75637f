"""A plain score put into an archive, or a score taken out of one, before it is worked on."""

import io
import zipfile
from dataclasses import replace
from pathlib import PurePosixPath

from arrange.score.archive import Archive
from arrange.score.container import Source
from arrange.score.markup import spelled_value

_CONTAINER = "META-INF/container.xml"
_MEDIA_TYPE = "application/vnd.recordare.musicxml+xml"


def packed(source: Source) -> Source:
    """The same score in an archive of its own; one that is in an archive stays as it is.

    The same score gives the same bytes: the members carry no time of day.
    """
    if source.archive is not None:
        return source
    member = f"{PurePosixPath(source.name).stem}.musicxml"
    quote = '"'
    container = (
        '<?xml version="1.0" encoding="UTF-8"?>\n<container>\n  <rootfiles>\n'
        f'    <rootfile full-path={spelled_value(member, quote)} media-type="{_MEDIA_TYPE}"/>\n'
        "  </rootfiles>\n</container>\n"
    )
    raw = io.BytesIO()
    with zipfile.ZipFile(raw, "w", zipfile.ZIP_DEFLATED) as packing:
        for name, content in ((_CONTAINER, container.encode()), (member, source.score_bytes)):
            packing.writestr(_timeless(name), content, zipfile.ZIP_DEFLATED)
    archive = Archive.open(raw.getvalue(), source.name)
    return replace(source, archive=replace(archive, score=member))


def unpacked(source: Source) -> Source:
    """The same score as a plain file; one that is plain stays as it is."""
    return replace(source, archive=None)


def _timeless(name: str) -> zipfile.ZipInfo:
    member = zipfile.ZipInfo(name)
    member.external_attr = 0o644 << 16
    return member
