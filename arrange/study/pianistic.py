"""What tells that a part was fingered for the piano."""

from arrange.score.model import Score, Sign
from arrange.score.own import FIELD_PREFIX
from arrange.score.reading.finding_harp import is_harp_name

FIFTH_FINGER = "5"


def piano_fingering(score: Score, part: str) -> str:
    """Why the fingering of *part* is a pianist's; empty where it may be a harpist's.

    A harpist plays with four fingers, so a 5 anywhere tells; so does a part that is not called
    a harp (common practice). In a result of ours the piano's fingers are gone already, and what
    stands there has been written for the harp, whatever the part is called.
    """
    listed = score.by_part[part]
    numbers = {
        sign.text
        for measure in listed.measures
        for note in measure.notes
        if note.notations
        for sign in note.signs(Sign.FINGERING)
    }
    if any(FIFTH_FINGER in number for number in numbers):
        return "it uses a fifth finger"
    is_ours = f"{FIELD_PREFIX}harp" in score.own
    if numbers and listed.name and not is_ours and not is_harp_name(listed.name):
        return f"the part is for {listed.name}"
    return ""
