"""Is every mark that came or went in the log?"""

from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import replace
from itertools import chain

from referee.changes import APPLIED, changed_places
from referee.faults import Fault, said
from referee.sheet import Note, Sheet, Sign
from referee.signs import WORDED, squeezed
from referee.summary import MarkEntry, Summary

QUIET = frozenset({"clef", "divisions", "(notation)"})
"""Kinds that may go with a change of notes: an entry is allowed, not asked for."""
LINES = frozenset({"glissando", "slide", "slur", "tied"})
"""Notations between notes: what becomes of their ends follows from a change of either note."""
ROLLS = frozenset({"arpeggiate", "non-arpeggiate"})
"""One sign of a whole chord, though each of its notes carries it."""
ROLLED = 2
"""Fewer notes are not rolled."""
Where = tuple[str, int]


def signs_of(sheet: Sheet, skipped: set[tuple[object, ...]]) -> Counter[tuple[str, Sign]]:
    """Every sign of a score with its part; notations are quiet where a note changed."""
    signs: Counter[tuple[str, Sign]] = Counter(("", sign) for sign in sheet.credits)
    for part, measures in sheet.parts.items():
        for measure in measures:
            signs.update((part, sign) for sign in measure.signs)
            for note in measure.notes:
                is_quiet = (part, note.index, note.offset) in skipped
                for text in note.notations:
                    sign = notation(note, text, is_quiet=is_quiet)
                    if sign is not None:
                        signs[part, sign] = 1 if sign.kind in ROLLS else signs[part, sign] + 1
    return signs


def notation(note: Note, text: str, *, is_quiet: bool) -> Sign | None:
    """A sign on a note; fingering is among the measure's signs already."""
    kind, staff = text.split(" ", maxsplit=1)[0], note.staff
    if kind == "fingering":
        return None
    if kind in ROLLS:
        staff = 0
    if is_quiet or kind in LINES:
        kind = "(notation)"
    return Sign(kind, note.index, note.offset, staff, text)


def mark_faults(source: Sheet, result: Sheet, summary: Summary) -> list[Fault]:
    """Removed and added marks against the log, measure by measure."""
    skipped = changed_places(source, result, summary)
    before, after = signs_of(source, skipped), signs_of(result, skipped)
    entries = [
        change.marks
        for change in summary.changes
        if change.outcome == APPLIED and change.kind == "mark"
    ]
    gone, come = by_measure(before - after), by_measure(after - before)
    said_gone: dict[Where, list[MarkEntry]] = defaultdict(list)
    said_come: dict[Where, list[MarkEntry]] = defaultdict(list)
    for side_before, side_after in entries:
        paired = Counter(side_before) & Counter(side_after)
        for side, target in ((side_before, said_gone), (side_after, said_come)):
            for entry in (Counter(side) - paired).elements():
                told = replace(entry, staff=0) if entry.text == "roll" else entry
                target[entry.part, entry.index].append(told)
    cancel_chains(said_gone, said_come)
    drop_lost_rolls(source, result, said_come)
    merge_rolls(result, said_come, come)
    return [
        *side_faults(gone, said_gone, "has gone", "went"),
        *side_faults(come, said_come, "has come", "came"),
    ]


def merge_rolls(
    result: Sheet, said_come: dict[Where, list[MarkEntry]], come: dict[Where, list[Sign]]
) -> None:
    """A roll that is written beside another of the same moment makes one roll with it."""
    for part, index in sorted(said_come):
        notes = result.parts[part][index].notes if part in result.parts else []
        rolls = Counter(n.offset for n in notes if ROLLS & {t.split(" ")[0] for t in n.notations})
        news = [s.offset for s in come.get((part, index), []) if s.kind in ROLLS]
        spare = len(rolls) - len(news)
        told = [entry for entry in said_come[part, index] if entry.text == "roll"]
        for entry in told[len(news) : len(news) + spare]:
            said_come[part, index].remove(entry)


def drop_lost_rolls(source: Sheet, result: Sheet, said_come: dict[Where, list[MarkEntry]]) -> None:
    """A roll went with its notes where a moment has lost two of them and shows no roll."""
    for part, index in sorted(said_come):
        if part not in result.parts:
            continue
        was, now = (
            Counter(n.offset for n in s.parts[part][index].notes) for s in (source, result)
        )
        shown = {
            n.offset
            for n in result.parts[part][index].notes
            if ROLLS & {text.split(" ")[0] for text in n.notations}
        }
        said_come[part, index] = [
            entry
            for entry in said_come[part, index]
            if entry.text != "roll"
            or entry.offset in shown
            or was[entry.offset] - now[entry.offset] < ROLLED
        ]


def cancel_chains(gone: dict[Where, list[MarkEntry]], come: dict[Where, list[MarkEntry]]) -> None:
    """A mark that one change brings and a later one takes away is no difference."""
    for where in sorted(set(gone) & set(come)):
        both = Counter(gone[where]) & Counter(come[where])
        for entries in (gone, come):
            entries[where] = list((Counter(entries[where]) - both).elements())


def by_measure(signs: Counter[tuple[str, Sign]]) -> dict[Where, list[Sign]]:
    """Signs by part and measure."""
    grouped: dict[Where, list[Sign]] = defaultdict(list)
    for part, sign in signs.elements():
        grouped[part, sign.index].append(sign)
    return grouped


def side_faults(
    signs: dict[Where, list[Sign]],
    entries: dict[Where, list[MarkEntry]],
    has: str,
    did: str,
) -> Iterator[Fault]:
    """Match signs and entries of one direction, measure by measure; credits at any place."""
    spare = match_credits(signs.pop(("", 0), []), entries)
    for sign in spare:
        yield Fault("mark", "credits", f"{sign.text!r} {has} without an entry")
    for where in sorted(set(signs) | set(entries)):
        left_signs, left_entries = matched(signs.get(where, []), entries.get(where, []))
        for sign in left_signs:
            if sign.kind not in QUIET:
                place = said(*where, sign.offset)
                sentence = f"{sign.kind} {sign.text!r} {has} without an entry"
                yield Fault("mark", place, sentence)
        for entry in left_entries:
            yield Fault("mark", said(*where), f"the log says {entry.text!r} {did}: it did not")


def match_credits(titles: list[Sign], entries: dict[Where, list[MarkEntry]]) -> list[Sign]:
    """Take the entries of credits and fields away, wherever they stand; bare credits are left."""
    spare = []
    for sign in titles:
        own = squeezed(sign.text)
        told = list(chain.from_iterable(entries.values()))
        same = [entry for entry in told if squeezed(entry.text) == own]
        if sign.kind == "field":
            same += [entry for entry in told if own in squeezed(entry.text)]
        if same:
            entries[same[0].part, same[0].index].remove(same[0])
        else:
            spare.append(sign)
    return spare


def matched(signs: list[Sign], entries: list[MarkEntry]) -> tuple[list[Sign], list[MarkEntry]]:
    """What is left after matching by text, by joined texts, then pictures one by one."""
    signs, left = sorted(signs, key=lambda s: (s.offset, s.staff)), []
    for entry in sorted(entries, key=lambda e: (e.index, e.text)):
        taken = matching(signs, squeezed(entry.text))
        if taken:
            for at in reversed(taken):
                del signs[at]
        else:
            left.append(entry)
    while left:
        picture = next((s for s in signs if s.kind not in WORDED | {"words"} | QUIET), None)
        picture = picture or next((s for s in signs if s.kind in QUIET), None)
        if picture is None:
            break
        signs.remove(picture)
        left.pop()
    return signs, left


def matching(signs: list[Sign], text: str) -> list[int]:
    """Places of the one sign, or of the signs of one moment, that say *text*."""
    for at, sign in enumerate(signs):
        if squeezed(sign.text) == text and sign.kind not in QUIET:
            return [at]
    for first in range(len(signs)):
        joined = ""
        taken: list[int] = []
        for at in range(first, len(signs)):
            if signs[at].offset != signs[first].offset or signs[at].kind == "lyric":
                continue
            joined, taken = joined + squeezed(signs[at].text), [*taken, at]
            if joined == text:
                return taken
            if not text.startswith(joined):
                break
    return []
