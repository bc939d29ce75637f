"""An editor's decisions: what is declined, chosen otherwise, pinned; kept in a file."""

from arrange.decisions.files import read_decisions, write_decisions
from arrange.decisions.matching import Matched, Settled, Settlement, matched
from arrange.decisions.places import decisions_basis
from arrange.decisions.records import (
    FORMAT,
    VERSION,
    Decision,
    Decisions,
    Kind,
    Place,
    Settling,
)

__all__ = [
    "FORMAT",
    "VERSION",
    "Decision",
    "Decisions",
    "Kind",
    "Matched",
    "Place",
    "Settled",
    "Settlement",
    "Settling",
    "decisions_basis",
    "matched",
    "read_decisions",
    "write_decisions",
]
