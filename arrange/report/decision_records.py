"""What the summary, and the screen, say about an editor's decisions."""

from collections.abc import Iterator
from typing import Any

from arrange.decisions import Place, Settled, Settlement, Settling
from arrange.units import quarters_text


def decision_record(settlement: Settlement | None) -> dict[str, Any] | None:
    """What became of every decision, as JSON content; None where there are none."""
    if settlement is None:
        return None
    return {
        "file": settlement.decisions.file,
        "same_source": settlement.is_same_source,
        "all_declined": settlement.decisions.declines_all,
        "entries": [_record(settled) for settled in settlement.settled],
    }


def _record(settled: Settled) -> dict[str, Any]:
    decision = settled.decision
    return {
        "kind": "pin" if decision.kind.is_pin else decision.kind.value,
        "change": decision.change,
        "rule": decision.rule,
        "what": decision.what,
        "place": None if decision.place is None else _place(decision.place, settled.index),
        "by": decision.by,
        "note": decision.note,
        "outcome": settled.settling.value,
        "detail": settled.detail,
    }


def _place(place: Place, index: int) -> dict[str, Any]:
    """The place as it was decided, at its index by now; -1 where it is not found."""
    return {
        "part": place.part,
        "index": index,
        "measure": place.measure,
        "offset": quarters_text(place.offset),
        "staff": place.staff,
        "voice": place.voice,
        "note": place.note,
    }


def not_carried_out(settlement: Settlement | None) -> Iterator[str]:
    """A sentence for each decision that was not carried out."""
    for settled in settlement.settled if settlement is not None else ():
        if settled.settling in {Settling.STALE, Settling.REFUSED}:
            place = settled.decision.place
            measure = f", measure {place.measure}" if place is not None and place.measure else ""
            yield (
                f"a decision is {settled.settling.value.lower()}{measure} "
                f"({settled.decision.what.rstrip('.')}): {settled.detail}"
            )
