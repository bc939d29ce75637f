"""What becomes of a piece: a closed set."""

from enum import StrEnum


class PieceOutcome(StrEnum):
    """What became of one piece on one harp.

    Attributes:
        CONVERTED: written, nothing open.
        OPEN: written, open points remain for an editor.
        REFUSED: the score cannot be used; the reason says why and what to do.
        FAILED: a fault of the program; a report to send stands beside the place of the result.
    """

    CONVERTED = "converted"
    OPEN = "open points"
    REFUSED = "refused"
    FAILED = "failed"
