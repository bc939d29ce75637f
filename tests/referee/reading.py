"""Reading a part element by element: time, staff and voice of each note, exactly."""

from dataclasses import replace
from fractions import Fraction
from typing import NamedTuple

from lxml import etree

from referee import opening, pitches
from referee.elements import (
    ACCIDENTALS,
    beats_of,
    named,
    other_signs,
    sounds_above,
    ties_of,
    transposition_of,
    tuplet_length,
)
from referee.ornaments import auxiliaries_of, is_damped, notation_texts, stroke_of
from referee.sheet import Measure, Note, Rest, Sheet, Sign
from referee.signs import credits_of, direction_signs, note_signs, tempi_of

KeyTurn = tuple[Fraction, int, etree._Element]
"""When a key signature comes into force, on which staff (0: all), and the signature."""


def key_of(key: etree._Element) -> dict[str, int]:
    """Letter to alteration in a key signature."""
    fifths = opening.child_text(key, "fifths")
    if fifths:
        return pitches.key_alters(int(fifths))
    steps = [s.text or "" for s in key.iterfind("key-step")]
    alters = [pitches.whole_alter(a.text or "") for a in key.iterfind("key-alter")]
    return dict(zip(steps, alters, strict=False))


class Spelt(NamedTuple):
    """How the page spells a note: what it shows, what the key says, what the file means."""

    place: tuple[int, str, int]
    alter: int
    shown: int | None
    in_key: int
    tied: bool


class PartReader:
    """Walks through one part and keeps what is in force."""

    def __init__(self, part: str) -> None:
        self.part = part
        self.divisions = Fraction(1)
        self.beats = Fraction(4)
        self.keys: dict[int, dict[str, int]] = {}
        self.entered = self.keys
        self.turning: list[KeyTurn] = []
        self.moves: dict[int, tuple[int, int]] = {}
        self.repeat = 0
        self.measure = Measure(0, "")
        self.now = self.onset = self.late = self.rested = Fraction(0)
        self.exact: dict[Fraction, Fraction] = {}
        self.voice = "1"
        self.shown: dict[tuple[int, str, int], int] = {}
        self.spelt: list[Spelt] = []
        self.chord_stroke = (Fraction(0), "")
        self.damps: list[tuple[Fraction, int]] = []
        self.carried: dict[tuple[int, str], int] = {}

    def read(self, elements: list[etree._Element]) -> list[Measure]:
        """Every measure of the part."""
        measures = []
        for index, element in enumerate(elements):
            self.measure = Measure(index, element.get("number") or "")
            self.now = self.onset = self.late = self.rested = Fraction(0)
            self.shown, self.damps, self.exact, self.spelt = {}, [], {}, []
            self.entered, self.turning = self.keys, self.key_turns(element)
            for child in element:
                self.take(child)
            self.turn_keys(None)
            self.measure.beats = self.beats
            self.settle_rests(element)
            self.settle_accidentals()
            if self.repeat and not self.measure.notes:
                self.measure.stands_for = max(index - self.repeat, 0)
            measures.append(self.measure)
        return measures

    def settle_rests(self, element: etree._Element) -> None:
        """A full-measure rest lasts as long as the time signature says, a pickup's as written."""
        timewise = element.getparent() if element.tag == "part" else element
        implicit = timewise is not None and timewise.get("implicit") == "yes"
        if self.rested:
            full = self.rested if implicit else self.beats
            self.measure.length = max(self.measure.length, full)

    def take(self, child: etree._Element) -> None:
        """Read one child of a measure."""
        reader = getattr(self, f"take_{child.tag}", None) if isinstance(child.tag, str) else None
        if reader is not None:
            reader(child)

    def span(self, child: etree._Element) -> Fraction:
        """The duration of an element, in quarters."""
        return Fraction(opening.child_text(child, "duration", "0")) / self.divisions

    @property
    def here(self) -> Fraction:
        """Where the reading stands, rounded tuplets put right."""
        return self.now + self.late

    def reach(self, time: Fraction) -> None:
        """Stand at *time*, as the file counts."""
        self.now = max(time, Fraction(0))
        self.late = self.exact.get(self.now, self.now) - self.now
        self.measure.length = max(self.measure.length, self.here)

    def last(self, span: Fraction, child: etree._Element) -> Fraction:
        """Let a note of *span* pass; the exact length that its value and tuplet say.

        Divisions that cannot express a tuplet round it (85 for 256/3): where type and tuplet
        differ from the duration by less than one division, they are what is meant.
        """
        meant = tuplet_length(child)
        off = abs(meant - span) if meant else Fraction(0)
        rounds = off * self.divisions < 1 and 8 * off <= meant
        length = meant if meant and rounds else span
        if child.find("chord") is None:
            self.now += span
            self.late += length - span
            if self.late:
                self.exact.setdefault(self.now, self.here)
        return length

    def take_backup(self, child: etree._Element) -> None:
        """Go back."""
        self.reach(self.now - self.span(child))

    def take_forward(self, child: etree._Element) -> None:
        """Go on."""
        self.reach(self.now + self.span(child))

    def take_attributes(self, child: etree._Element) -> None:
        """Divisions, keys, time, transposition, measure repeats."""
        divisions = opening.child_text(child, "divisions")
        if divisions:
            self.divisions = Fraction(divisions)
            self.sign("divisions", divisions)
        for key in child.iterchildren("key"):
            self.take_key(key)
        time = child.find("time")
        if time is not None and time.find("beats") is not None:
            self.beats = beats_of(time)
            self.sign("time", "/".join(t.strip() for t in time.itertext() if t.strip()))
        for clef in child.iterchildren("clef"):
            words = "".join(t.strip() for t in clef.itertext())
            self.sign("clef", words, int(clef.get("number") or 1))
        for move in child.iterchildren("transpose"):
            self.moves[int(move.get("number") or 0)] = transposition_of(move)
        for sign in child.iterfind("measure-style/measure-repeat"):
            starts = sign.get("type") == "start"
            self.repeat = int((sign.text or "1").strip() or 1) if starts else 0

    def take_key(self, key: etree._Element) -> None:
        """A key signature, of one staff or of all (staff 0)."""
        fifths = opening.child_text(key, "fifths")
        if fifths:
            self.measure.fifths.append((self.here, int(key.get("number") or 0), int(fifths)))

    def key_turns(self, element: etree._Element) -> list[KeyTurn]:
        """The key signatures of a measure by the time at which they come into force."""
        turns: list[KeyTurn] = []
        now, divisions = Fraction(0), self.divisions
        for child in element:
            if child.tag == "attributes":
                text = opening.child_text(child, "divisions")
                divisions = Fraction(text) if text else divisions
                turns += [(now, int(k.get("number") or 0), k) for k in child.iterfind("key")]
            elif child.tag in {"note", "forward", "backup"} and child.find("chord") is None:
                span = Fraction(opening.child_text(child, "duration", "0")) / divisions
                now = max(now + (-span if child.tag == "backup" else span), Fraction(0))
        return sorted(turns, key=lambda turn: turn[0])

    def turn_keys(self, until: Fraction | None) -> None:
        """Let the key signatures come into force that stand up to a time; None for all."""
        self.keys = dict(self.entered)
        for time, staff, key in self.turning:
            if until is None or time <= until:
                if not staff:
                    self.keys.clear()
                self.keys[staff] = key_of(key)

    def key_at(self, staff: int) -> dict[str, int]:
        """Letter to alteration on a staff, where the reading stands."""
        if self.turning:
            self.turn_keys(self.onset)
        return self.keys.get(staff, self.keys.get(0, {}))

    def sign(self, kind: str, text: str, staff: int = 1) -> None:
        """Keep a sign that stands here."""
        self.measure.signs.append(Sign(kind, self.measure.index, self.here, staff, text))

    def take_direction(self, child: etree._Element) -> None:
        """Words, dynamics, pedals and the rest."""
        shift = Fraction(opening.child_text(child, "offset", "0")) / self.divisions
        place = self.here + shift
        staff = int(opening.child_text(child, "staff", "1"))
        for kind, text in direction_signs(child):
            self.measure.signs.append(Sign(kind, self.measure.index, place, staff, text))
            if kind in {"damp", "damp-all"} or is_damped(text):
                self.damps.append((place, staff))
        self.measure.tempi.extend((place, tempo) for tempo in tempi_of(child))

    def take_sound(self, child: etree._Element) -> None:
        """A playback mark of its own."""
        if child.get("tempo"):
            self.measure.tempi.append((self.here, Fraction(child.get("tempo") or "")))
        self.sign("sound", " ".join(f"{k!s}={v!s}" for k, v in sorted(child.items())))

    def take_barline(self, child: etree._Element) -> None:
        """A barline: kept to see that none changes."""
        parts = [f"{e.tag!s} {sorted(e.items())} {(e.text or '').strip()}" for e in child]
        self.sign("barline", f"{child.get('location')} {parts}")

    def take_harmony(self, child: etree._Element) -> None:
        """A chord symbol."""
        root = named(child, "root/root-step", "root/root-alter")
        bass = named(child, "bass/bass-step", "bass/bass-alter")
        self.measure.harmonies.append((self.here, root, bass))
        self.sign("harmony", opening.child_text(child, "kind"))

    def take_note(self, child: etree._Element) -> None:
        """A note or a rest."""
        grace = child.find("grace") is not None
        if child.find("chord") is None:
            self.onset, self.voice = self.here, "1"
        duration = Fraction(0) if grace else self.last(self.span(child), child)
        rest = child.find("rest")
        if rest is not None and rest.get("measure") == "yes":
            self.rested = max(self.rested, self.here)
        else:
            self.measure.length = max(self.measure.length, self.here)
        staff = int(opening.child_text(child, "staff", "1"))
        self.voice = voice = opening.child_text(child, "voice", self.voice)
        place = Note(self.part, self.measure.index, self.onset, staff, voice, duration, grace, "")
        pitch = child.find("pitch")
        if pitch is not None:
            self.measure.notes.append(self.pitched(child, pitch, place))
        elif rest is not None:
            self.measure.rests.append(Rest(self.onset, duration, staff, voice))
        else:
            self.measure.unpitched += 1
        for kind, text in note_signs(child):
            sign = Sign(kind, self.measure.index, self.onset, staff, text)
            self.measure.signs.append(sign)

    def pitched(self, child: etree._Element, pitch: etree._Element, at: Note) -> Note:
        """The note with its pitch and all that hangs on it."""
        letter = opening.child_text(pitch, "step", "C")
        octave = int(opening.child_text(pitch, "octave", "4"))
        alter = pitches.whole_alter(opening.child_text(pitch, "alter", "0"))
        steps, semitones = self.moves.get(at.staff, self.moves.get(0, (0, 0)))

        def heard(written: str) -> str:
            return pitches.sounding(written, steps, semitones)

        string = octave - 1 if sounds_above(child) else octave
        tie_types = ties_of(child)
        shown = ACCIDENTALS.get(opening.child_text(child, "accidental"))
        place = (at.staff, letter, octave)
        due = self.key_at(at.staff).get(letter, 0)
        self.spelt.append(Spelt(place, alter, shown, due, "stop" in tie_types))
        if shown is not None:
            self.shown[place] = shown
        around = (self.key_at(at.staff), self.shown_on(at.staff))
        if child.find("chord") is None or stroke_of(child)[0]:
            self.chord_stroke = stroke_of(child)
        stroke, partner = self.chord_stroke
        return Note(
            at.part, at.index, at.offset, at.staff, at.voice, at.duration, at.grace,
            heard(pitches.spelled(letter, alter, string)),
            small=(child.find("type[@size]") is not None),
            cue=child.find("cue") is not None,
            slash=opening.child_text(child, "notehead") == "slash",
            tie_in="stop" in tie_types,
            tie_out="start" in tie_types,
            rolled=child.find("notations/arpeggiate") is not None,
            damped=(at.offset, at.staff) in self.damps or is_damped(other_signs(child)),
            stroke=stroke,
            partner=partner,
            lines=tuple(
                (tag, e.get("type", ""), e.get("number", "1"))
                for tag in ("glissando", "slide")
                for e in child.iterfind(f"notations/{tag}")
            ),
            auxiliaries=auxiliaries_of(child, (letter, octave), around, heard),
            notations=notation_texts(child),
            alter_shown=shown,
        )  # fmt: skip

    def shown_on(self, staff: int) -> dict[tuple[str, int], int]:
        """Accidentals shown so far in the measure, on one staff."""
        return {(le, o): a for (s, le, o), a in self.shown.items() if s == staff}

    def settle_accidentals(self) -> None:
        """In order of time: does the page give each note its alteration?"""
        notes = self.measure.notes
        order = sorted(range(len(notes)), key=lambda i: (notes[i].offset, not notes[i].grace))
        shown: dict[tuple[int, str, int], int] = {}
        for i in order:
            spelt = self.spelt[i]
            given = shown.get(spelt.place, spelt.in_key)
            if spelt.shown is not None:
                given = shown[spelt.place] = spelt.shown
            elif spelt.tied:
                continue
            if given != spelt.alter:
                notes[i] = replace(notes[i], alter_due=False)


def read_sheet(root: etree._Element) -> Sheet:
    """Read a whole score."""
    parts = opening.measures_by_part(root)
    read = {part: PartReader(part).read(elements) for part, elements in parts.items()}
    return Sheet(read, credits_of(root))
