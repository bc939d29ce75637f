"""Measures that no score has are refused: too much in them, or too long."""

from arrange.score.nodes import Node
from arrange.score.reading.inherited import Inherited
from arrange.score.reading.measures import ReadMeasure, read_measure
from arrange.score.reading.place import Place


def read_usual_measure(node: Node, inherited: Inherited, place: Place) -> ReadMeasure:
    """Read one measure that is no larger than the limits allow.

    Raises:
        BadInput: A number in it cannot be read, it holds too much, or it lasts too long.
    """
    limits = place.limits
    if len(node.children) > limits.measure_elements:
        raise place.bad(
            f"the measure holds {len(node.children):,} notes and marks, which no score needs; "
            "put barlines into it"
        )
    read = read_measure(node, inherited, place)
    if read.measure.length > limits.measure_quarters:
        raise place.bad(
            f"the measure lasts {float(read.measure.length):,.0f} quarters, which no score needs; "
            "correct its durations"
        )
    return read
