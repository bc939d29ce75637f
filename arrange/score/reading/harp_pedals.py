"""The pedal diagram of the harp."""

from arrange.pitch import LETTERS
from arrange.score.nodes import Node
from arrange.score.reading.running import Running

_LEFT, _RIGHT = "DCB", "EFGA"
_SIGNS = {-1: "b", 0: "", 1: "#"}


def pedal_pairs(node: Node, running: Running) -> tuple[tuple[str, int], ...]:
    """The pedals that a diagram sets, left to right; those it does not name stay as they are."""
    found: dict[str, int] = {}
    for tuning in node.find_all("pedal-tuning"):
        step = tuning.child_text("pedal-step")
        alter = running.place.number(tuning.child_text("pedal-alter", "0"), "a pedal's alteration")
        if len(step) != 1 or step not in LETTERS or alter not in (-1, 0, 1):
            running.note(f"A harp pedal {step!r} at {alter}; no harp has it, it is not read.")
            continue
        found[step] = int(alter)
    return tuple((letter, found[letter]) for letter in _LEFT + _RIGHT if letter in found)


def pedal_row(pairs: tuple[tuple[str, int], ...]) -> str:
    """The row that says the same: ``D C Bb | Eb F G Ab``."""
    feet = (
        " ".join(letter + _SIGNS[alter] for letter, alter in pairs if letter in foot)
        for foot in (_LEFT, _RIGHT)
    )
    return " | ".join(filter(None, feet))
