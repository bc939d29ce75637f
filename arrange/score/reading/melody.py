"""Whether there is a melody where the user says so."""

from collections.abc import Sequence

from arrange.errors import BadInput
from arrange.score.model import Part, StaffHand

Named = tuple[tuple[int, str], ...]
"""Staff, counted from the top of the harp's, and voice; an empty voice is the whole staff."""


def require_melody(
    parts: Sequence[Part], harps: Sequence[Sequence[StaffHand]], named: Named, file: str
) -> None:
    """See that the harps have notes where the user finds the melody.

    Raises:
        BadInput: there is no such staff, or no such voice on it.
    """
    by_id = {part.id: part for part in parts}
    most = max((len(harp) for harp in harps), default=0)
    for number, voice in named:
        staves = [harp[number - 1] for harp in harps if 1 <= number <= len(harp)]
        if not staves:
            raise BadInput(
                f"--melody {number}: the harp has {most} staves, 1 at the top", file=file
            )
        voices = {
            note.voice
            for staff in staves
            for measure in by_id[staff.part].measures
            for note in measure.notes
            if note.staff == staff.staff
        }
        if voice and voice not in voices:
            known = ", ".join(sorted(voices)) or "none"
            raise BadInput(
                f"--melody {number}/{voice}: staff {number} has no such voice; it has {known}",
                file=file,
            )
