"""What printing and looking need beside the program itself."""

from collections.abc import Mapping
from typing import TYPE_CHECKING

from arrange.errors import BadInput

if TYPE_CHECKING:
    import verovio

INSTALL = (
    "printing needs libraries that are not installed; "
    "add them: pip install verovio reportlab 'fonttools[woff]'"
)


def engraver(options: Mapping[str, object], install: str = INSTALL) -> "verovio.toolkit":
    """The engraver, silent, with these options of its own.

    Raises:
        BadInput: it is not installed; the sentence is *install*.
    """
    try:
        import verovio  # noqa: PLC0415 - only who prints or looks needs the engraver
    except ImportError as missing:
        raise BadInput(install) from missing
    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    toolkit.setOptions(dict(options))
    return toolkit
