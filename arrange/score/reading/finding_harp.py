"""Which parts the harp plays, and which hand reads which staff.

A harp is known by its name in the usual languages, by its instrument sound, or by its MIDI
program; where no part is a harp, a keyboard part takes its place. The upper staff is the right
hand's, the lower one the left's; of three or more, those that begin in the bass clef are the
left hand's (common practice).
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from arrange.errors import BadInput
from arrange.score.model import Clef, Finding, HandName, Part, StaffHand
from arrange.score.reading.part_list import ListedPart

_HARP = re.compile(
    r"\b(?:harps?|harpes?|arpa|arpe|arpas|harfen?|harpa|harpo|harpu|harppu|harfa|hárfa|"
    r"hrp|hrps|hp|hps|hrf|арф[аы])\b|ハープ|竖琴|豎琴|하프",
    re.IGNORECASE,
)
_NO_HARP = re.compile(
    r"\b(?:jew'?s|jaw|mouth|blues|glass|aeolian)\s+harp\b|\bharp\s+guitar\b", re.IGNORECASE
)
_KEYBOARD = re.compile(
    r"\b(?:piano(?:forte)?s?|pianino|fortepiano|klavier|clavier|clavecin|keyboards?|pno|pf|klav|"
    r"harpsichord|cembalo|clavicembalo|celesta|celeste|organ|orgel|orgue|organo|clavichord|"
    r"spinet|virginal|kbd)\b",
    re.IGNORECASE,
)
_HARP_SOUND = re.compile(r"pluck\.harp(?:\.|$)")
_HARP_PROGRAM = "47"
"""Orchestral harp in General MIDI, counted from 1."""
_KEYBOARD_PROGRAMS = frozenset(str(n) for n in range(1, 10))
_RIGHT = re.compile(
    r"\b(?:r\.?\s?h\.?|right(?:\s+hand)?|m\.?\s?d\.?|main\s+droite|mano\s+destra|rechte?|r)(?!\w)",
    re.IGNORECASE,
)
_LEFT = re.compile(
    r"\b(?:l\.?\s?h\.?|left(?:\s+hand)?|m\.?\s?[gs]\.?|main\s+gauche|mano\s+sinistra|linke?|l)"
    r"(?!\w)",
    re.IGNORECASE,
)
_NUMERAL = re.compile(r"\b(\d+|[IVX]+)\b\.?\s*$")


@dataclass(frozen=True, slots=True)
class Candidate:
    """A part with its entry in the list, and whether it is nothing but rests."""

    listed: ListedPart
    part: Part

    @property
    def is_silent(self) -> bool:
        """It has no pitched note."""
        return not self.part.is_pitched

    @property
    def title(self) -> str:
        """Its name, or its id."""
        return self.listed.name or self.listed.id


Harps = tuple[tuple[StaffHand, ...], ...]


def is_harp_name(text: str) -> bool:
    """Whether words name a harp."""
    return bool(_HARP.search(text)) and not _NO_HARP.search(text)


def find_harps(
    candidates: Sequence[Candidate], asked: tuple[str, ...], file: str
) -> tuple[Harps, tuple[Finding, ...]]:
    """Return the staves of each harp, and what was assumed.

    Args:
        candidates: all parts.
        asked: ids or names of the parts that the user chose; empty to look for a harp.
        file: for messages.

    Raises:
        BadInput: No part is a harp or a keyboard, or one that was asked for is not there.
    """
    findings: list[Finding] = []
    if asked:
        chosen = _chosen(candidates, asked, file)
    else:
        chosen = _harps(candidates, findings) or _keyboard(candidates, findings)
    if not chosen:
        raise BadInput(
            f"no part is named as a harp or keyboard; choose one with --part: {_list(candidates)}",
            file=file,
        )
    return _hands(chosen), tuple(findings)


def _list(candidates: Sequence[Candidate]) -> str:
    return ", ".join(
        f"{c.listed.id} ({c.listed.name})" if c.listed.name else c.listed.id for c in candidates
    )


def _chosen(candidates: Sequence[Candidate], asked: tuple[str, ...], file: str) -> list[Candidate]:
    chosen: list[Candidate] = []
    for word in asked:
        wanted = word.strip().casefold()
        found = [c for c in candidates if c.listed.id == word.strip()] or [
            c for c in candidates if wanted in (name.casefold() for name in c.listed.names)
        ]
        if not found:
            raise BadInput(
                f"no part is called {word!r}; the parts are {_list(candidates)}", file=file
            )
        chosen.extend(c for c in found if c not in chosen)
    return [c for c in candidates if c in chosen]


def _harps(candidates: Sequence[Candidate], findings: list[Finding]) -> list[Candidate]:
    found = [c for c in candidates if _is_harp(c.listed)]
    sounding = [c for c in found if not c.is_silent]
    if not sounding:
        keyboard = any(not c.is_silent and _is_keyboard(c) for c in candidates)
        found = [] if keyboard else found
    else:
        findings.extend(
            Finding(
                f"The harp part '{c.title}' has nothing but rests; it was left out.", c.part.id
            )
            for c in found
            if c.is_silent and not _is_one_hand(c, found)
        )
        found = [c for c in found if not c.is_silent or _is_one_hand(c, found)]
    for candidate in found:
        _note_mixed(candidate, findings)
    return found


def _note_mixed(candidate: Candidate, findings: list[Finding]) -> None:
    listed = candidate.listed
    if not is_harp_name(listed.name) and _KEYBOARD.search(listed.name):
        findings.append(
            Finding(
                f"The part '{listed.name}' is a harp in some places only; the whole part is "
                "rewritten.",
                candidate.part.id,
            )
        )


def _is_harp(listed: ListedPart) -> bool:
    if any(is_harp_name(name) for name in listed.names):
        return True
    if any(_HARP_SOUND.match(sound) for sound in listed.sounds):
        return True
    return _HARP_PROGRAM in listed.programs and not listed.sounds


def _is_keyboard(candidate: Candidate) -> bool:
    listed = candidate.listed
    if any(_KEYBOARD.search(name) for name in listed.names):
        return True
    if any(sound.startswith("keyboard.") for sound in listed.sounds):
        return True
    has_staves = candidate.part.staves > 1
    return has_staves and (not listed.sounds or not _KEYBOARD_PROGRAMS.isdisjoint(listed.programs))


def _keyboard(candidates: Sequence[Candidate], findings: list[Finding]) -> list[Candidate]:
    """The first keyboard part that plays, with the part of its other hand."""
    found = [c for c in candidates if _is_keyboard(c)]
    found = [c for c in found if not c.is_silent] or found
    grand = [c for c in found if c.part.staves > 1]
    if not found:
        return []
    first = (grand or found)[0]
    taken = [first]
    if first.part.staves == 1:
        taken += [c for c in found[found.index(first) + 1 :][:1] if _are_hands(first, c)]
    findings.append(
        Finding(
            f"No part is a harp; '{first.title}' is rewritten in its place (--part chooses "
            "another).",
            first.part.id,
        )
    )
    return taken


def _is_one_hand(candidate: Candidate, found: Sequence[Candidate]) -> bool:
    """Whether it is the right or left hand of a harp in two parts."""
    return any(c is not candidate and _are_hands(c, candidate) for c in found)


def _are_hands(one: Candidate, other: Candidate) -> bool:
    """Whether two parts are the two hands of one player."""
    if one.part.staves > 1 or other.part.staves > 1:
        return False
    a, b = one.listed.name, other.listed.name
    if _hand(a) and _hand(b):
        return _hand(a) is not _hand(b)
    numbers = _NUMERAL.search(a), _NUMERAL.search(b)
    if numbers[0] is not None and numbers[1] is not None:
        return False
    return a == b or not a or not b or _hand(a) is not _hand(b)


def _hand(name: str) -> HandName | None:
    if _RIGHT.search(name):
        return HandName.RIGHT
    return HandName.LEFT if _LEFT.search(name) else None


def _hands(chosen: list[Candidate]) -> Harps:
    """Pair parts of one staff that are two hands; every other part is a harp of its own."""
    harps: list[tuple[StaffHand, ...]] = []
    waiting: Candidate | None = None
    for candidate in chosen:
        if waiting is not None and _are_hands(waiting, candidate):
            harps.append(_pair(waiting, candidate))
            waiting = None
            continue
        if waiting is not None:
            harps.append(_staves(waiting.part))
        waiting = candidate if candidate.part.staves == 1 else None
        if waiting is None:
            harps.append(_staves(candidate.part))
    if waiting is not None:
        harps.append(_staves(waiting.part))
    return tuple(harps)


def _pair(one: Candidate, other: Candidate) -> tuple[StaffHand, ...]:
    is_turned = (
        _hand(one.listed.name) is HandName.LEFT or _hand(other.listed.name) is HandName.RIGHT
    )
    hands = (HandName.LEFT, HandName.RIGHT) if is_turned else (HandName.RIGHT, HandName.LEFT)
    return StaffHand(one.part.id, 1, hands[0]), StaffHand(other.part.id, 1, hands[1])


def _staves(part: Part) -> tuple[StaffHand, ...]:
    count = part.staves
    if count <= 2:
        hands = [HandName.RIGHT, HandName.LEFT][:count]
    else:
        low = [_is_low(part, staff) for staff in range(1, count + 1)]
        low[0], low[-1] = False, True
        hands = [HandName.LEFT if bass else HandName.RIGHT for bass in low]
    return tuple(StaffHand(part.id, i + 1, hand) for i, hand in enumerate(hands))


def _is_low(part: Part, staff: int) -> bool:
    """Whether a staff begins in the bass clef."""
    clefs = (clef for measure in part.measures for clef in measure.clefs if clef.staff == staff)
    first: Clef | None = next(clefs, None)
    return first is not None and first.sign == "F"
