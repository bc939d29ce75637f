"""Glissandi: the strings that a sweep crosses, and the tones that it names."""

import re
from fractions import Fraction
from functools import cache

from referee import pitches
from referee.faults import Fault, said
from referee.sheet import Note, Sheet, Sign
from referee.summary import Summary, Sweep

PICTURED = re.compile(r"pedal-step ([A-G]) pedal-alter (-?\d+)")
WORD = re.compile(r"([A-G])(#|b|♯|♭|♮|n)?")
FOURTH = 3
"""In steps: a line over fewer sweeps no strings."""
ROW = 3
"""From so many note names on, a row of words is a pedal mark and nothing else."""
ALTERS = {"#": 1, "♯": 1, "b": -1, "♭": -1}


def swept_strings(sweep: Sweep, summary: Summary) -> list[str]:
    """The strings from one end to the other, in the order of the sweep."""
    order = sorted(summary.strings, key=lambda s: pitches.semitone(summary.strings[s][0]))
    ends = [pitches.string_name(sweep.low), pitches.string_name(sweep.high)]
    if any(end not in summary.strings for end in ends):
        return []
    first, last = (order.index(end) for end in ends)
    return order[first : last + 1] if first <= last else order[last : first + 1][::-1]


def pedal_setting(signs: list[Sign], until: tuple[int, Fraction]) -> dict[str, int] | None:
    """Letter to alteration as pedal marks leave it; None where the marks are not sure."""
    setting: dict[str, int] = {}
    unsure = False
    for sign in signs:
        if (sign.index, sign.offset) > until:
            break
        if sign.kind == "harp-pedals":
            setting |= {letter: int(alter) for letter, alter in PICTURED.findall(sign.text)}
        elif sign.kind == "words":
            names = sign.text.replace("|", " ").split()
            matches = [WORD.fullmatch(name) for name in names]
            if len(names) >= ROW and all(matches):
                setting |= {m[1]: ALTERS.get(m[2] or "", 0) for m in matches if m}
            else:
                unsure = unsure or any(m is not None and m[2] for m in matches)
    return None if unsure else setting


class Tones:
    """Pitch classes that each sweep of a score names."""

    def __init__(self, source: Sheet, summary: Summary) -> None:
        self.source, self.summary = source, summary
        self.signs = cache(self._signs)

    def _signs(self, part: str) -> list[Sign]:
        """Signs of a part in score order."""
        measures = self.source.parts[part]
        return sorted(
            (s for m in measures for s in m.signs if s.kind in {"harp-pedals", "words"}),
            key=lambda s: (s.index, s.offset),
        )

    def moved(self, part: str, names: list[str]) -> frozenset[int]:
        """Pitch classes of *names* in the transposed source."""
        name = self.summary.interval if part in self.summary.transposed_parts else "P1"
        return frozenset(pitches.semitone(pitches.transposed(n, name)) % 12 for n in names)

    def of(self, sweep: Sweep) -> frozenset[int] | None:
        """What the sweep names; None where the page leaves it unsure."""
        if sweep.tones:
            return frozenset(tone_class(tone) for tone in sweep.tones)
        setting = pedal_setting(self.signs(sweep.part), (sweep.index, sweep.offset))
        if setting is None:
            return None
        if setting and len(setting) < len(pitches.LETTERS):
            return None
        if not setting:
            setting = self.key_setting(sweep)
        if setting is None:
            return None
        names = [pitches.spelled(le, setting.get(le, 0), 4) for le in pitches.LETTERS]
        return self.moved(sweep.part, names)

    def key_setting(self, sweep: Sweep) -> dict[str, int] | None:
        """The key signature; None where accidentals in the measure may change it."""
        fifths = 0
        for measure in self.source.parts[sweep.part][: sweep.index + 1]:
            for offset, _, value in measure.fifths:
                if (measure.index, offset) <= (sweep.index, sweep.offset):
                    fifths = value
        alters = pitches.key_alters(fifths)
        measure = self.source.parts[sweep.part][sweep.index]
        for note in measure.notes:
            if note.alter_shown is not None:
                return None
        return alters


def tone_class(tone: str) -> int:
    """The pitch class of ``C#`` or ``C#4``."""
    return pitches.semitone(tone if tone[-1].isdigit() else f"{tone}4") % 12


def goals(start: Note, notes: list[Note]) -> list[Note]:
    """The notes that a line may lead to: its stop, else what the voice, or the staff, plays next.

    A stop belongs to the line if it has its number, or is of its voice and no stop has.
    """
    place = (start.index, start.offset)
    later = [n for n in notes if (n.index, n.offset) > place and not n.cue]
    begun = [line for line in start.lines if line[1] == "start"]
    for length in (3, 1):
        wanted = {(tag, "stop", number)[:length] for tag, _, number in begun}
        near = later if length > 1 else [n for n in later if n.voice == start.voice]
        stops = [n for n in near for x in n.lines if x[1] == "stop" and x[:length] in wanted]
        goal = first_of(stops)
        others = [
            n
            for n in notes
            for x in n.lines
            if x[1] == "start"
            and (x[0], "stop", x[2])[:length] in wanted
            and goal
            and place < (n.index, n.offset) < (goal[0].index, goal[0].offset)
        ]
        if goal and not others:
            return goal
    staff = [n for n in later if n.staff == start.staff]
    plucked = [n for n in staff if not n.tie_in]
    voice = [n for n in later if n.voice == start.voice and not n.tie_in]
    return first_of(voice or plucked or staff)


def first_of(notes: list[Note]) -> list[Note]:
    """Those of the earliest moment."""
    first = min(((n.index, n.offset) for n in notes), default=None)
    return [n for n in notes if (n.index, n.offset) == first]


def is_short(start: Note, notes: list[Note]) -> bool:
    """A line to a neighbour less than a fourth away: a slide between two notes, no sweep."""
    return any(
        abs(pitches.step_place(goal.pitch) - pitches.step_place(start.pitch)) < FOURTH
        for goal in goals(start, notes)
    )


def sweep_faults(result: Sheet, summary: Summary) -> list[Fault]:
    """Glissandi that the page draws and the summary does not plan, and ends off the harp."""
    faults = []
    planned = {(s.part, s.index) for s in summary.sweeps}
    left = {(o.part, o.index) for o in summary.open}
    for part in summary.parts:
        notes = list(result.notes(part))
        for note in notes:
            place = (part, note.index)
            if (
                note.sweeps
                and not note.cue
                and place not in planned | left
                and not is_short(note, notes)
            ):
                faults.append(
                    Fault("sweep", said(*place, note.offset), "a glissando without an entry")
                )
    for sweep in summary.sweeps:
        at = said(sweep.part, sweep.index, sweep.offset)
        if not swept_strings(sweep, summary):
            sentence = f"no strings from {sweep.low} to {sweep.high}"
            faults.append(Fault("sweep", at, sentence))
        extra = (sweep.foreign | sweep.held) - set(summary.strings)
        if extra:
            faults.append(Fault("sweep", at, f"no string is called {min(extra)}"))
    return faults
