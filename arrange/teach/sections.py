"""A lesson in words: its sections, each a title, a few lines, and a list."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from math import ceil

from arrange.phrasing import capital, listed
from arrange.report.review.entries import signed
from arrange.report.review.harp_picture import setting_text
from arrange.study.roles import in_doubt
from arrange.teach.form import form_sentence, portions
from arrange.teach.gestures import Gesture
from arrange.teach.hard import HardPlace
from arrange.teach.lesson import Lesson
from arrange.teach.practice import HOW
from arrange.teach.setting import strings_used, tempo_text
from arrange.teach.words import ELLIPSIS, counted, seconds_text, span_text

COLUMN = 60
"""Letters in a line of the printed column (measured on the page, on the safe side)."""
TUNING = "Never tune a string above the pitch it is made for; lower is the safe way."
HANDS_DIFFER = (
    "What a hand can span and how fast it goes is the player's and the teacher's to judge: every "
    "number here is a setting. Pain is a reason to stop."
)
RIGHTS = "An arrangement of a protected work needs its owner's leave; this page gives none."
BOLD = 1.2
"""How much wider bold letters are (measured on the page)."""
CAUTIONS = (TUNING, HANDS_DIFFER, RIGHTS)
LONGEST = 120
"""Letters that a problem may have (house judgement)."""
_FILLS = "Teachers differ on some of this; take it as a beginning."


@dataclass(frozen=True, slots=True)
class Item:
    """One entry: *lead* stands out, *text* follows, *extra* stands below.

    Attributes:
        count: beats with what is done on each; empty where nothing is counted.
        tag: a word or two at the end of the lead.
        short: what is printed of it where there is no room for more; "" for nothing.
    """

    lead: str
    text: str = ""
    extra: tuple[str, ...] = ()
    count: tuple[tuple[str, str], ...] = ()
    tag: str = ""
    short: str = ""

    @property
    def lines(self) -> int:
        """How many lines it takes in a printed column, about."""
        first = ceil((len(self.lead) * BOLD + len(self.tag) + len(self.text) + 4) / COLUMN)
        below = sum(ceil((len(text) + 3) / COLUMN) for text in self.extra)
        told = sum(len(beat) + len(done) + 3 for beat, done in self.count)
        return first + below + (ceil(told / (COLUMN * 2 / 3)) if self.count else 0)


@dataclass(frozen=True, slots=True)
class Section:
    """A part of the page.

    Attributes:
        name: its id; *title*; *lines*: before the list.
        items: the list; *ordered*: it is a ranking.
        share: printed lines that it may take at first; *rank*: who gets lines that are left,
            0 first.
    """

    name: str
    title: str
    lines: tuple[str, ...] = ()
    items: tuple[Item, ...] = ()
    is_ordered: bool = False
    share: int = 12
    rank: int = 9
    after: tuple[str, ...] = field(default=())


def sections(lesson: Lesson) -> tuple[Section, ...]:
    """Return the sections in the order of the page; those with nothing to say are left out."""
    made = (
        _missing(lesson),
        _setting(lesson),
        _form(lesson),
        _key(lesson),
        _techniques(lesson),
        _hard(lesson),
        _moves(lesson),
        _glissandi(lesson),
        _ideas(lesson),
        Section("cautions", "To bear in mind", items=tuple(Item("", c) for c in CAUTIONS), rank=0),
    )
    return tuple(section for section in made if section is not None)


def _missing(lesson: Lesson) -> Section | None:
    left = lesson.piece.score.left_open
    lines = []
    if not lesson.is_ours:
        lines.append(
            "This score was not made for this harp. The levers are taken as set once, before the "
            "first note, as most of its notes ask; what that cannot give stands here. A version "
            "for the harp: leverwright convert."
        )
    if left:
        places = span_text(lesson.piece.measures, (event.index for event in left))
        lines.append(
            f"{capital(counted(len(left), 'note'))} left open in {places}, marked with a "
            "question mark: decide with your teacher what to play there."
        )
    where: dict[str, list[int]] = {}
    for violation in lesson.missing:
        where.setdefault(violation.problem.rstrip("."), []).append(violation.index)
    measures = lesson.piece.measures
    items = tuple(
        Item(span_text(measures, indices), f"{_shortened(problem)}.")
        for problem, indices in sorted(where.items(), key=lambda row: -len(row[1]))
    )
    if not lines and not items:
        return None
    title = "What is still open" if lesson.is_ours else "What cannot be had as it stands"
    return Section("open", title, tuple(lines), items, share=12, rank=6)


def _shortened(text: str) -> str:
    """A sentence, and of a long one the beginning; `leverwright check` says the whole."""
    return text if len(text) <= LONGEST else f"{text[:LONGEST].rpartition(',')[0]} {ELLIPSIS}"


def _setting(lesson: Lesson) -> Section:
    piece = lesson.piece
    lines = [setting_text(piece.harp, piece.told.initial)]
    used = strings_used(piece)
    if used:
        lines.append(f"Strings used: {used}.")
    items: tuple[Item, ...] = ()
    if not piece.told.moves:
        lines.append("No lever is moved: wherever you restart, the harp stands as at the start.")
    elif lesson.restarts:
        lines.append("Where people restart, the levers stand:")
        items = tuple(Item(r.where, r.levers, tag=r.why) for r in lesson.restarts)
    return Section("setting", "The harp set up", tuple(lines), items, share=18, rank=2)


def _form(lesson: Lesson) -> Section:
    found = lesson.form
    items = []
    for section in found.sections:
        text = " ".join(section.differences)
        if section.of and not text:
            text = "The same again, note for note, lever for lever."
        elif section.of and not section.name.startswith(section.of[:1]):
            text = f"Brings back {section.of}. {text}"
        items.append(Item(section.name, text, tag=section.where))
    shown = tuple(items) if len(items) > 1 else ()
    lines = [form_sentence(found)]
    parts = portions(lesson.piece) if not shown else ()
    if len(parts) > 1:
        lines.append(f"To be learnt in portions, where the melody breathes: {'; '.join(parts)}.")
    return Section("form", "Form", tuple(lines), shown, share=22, rank=3)


def _key(lesson: Lesson) -> Section:
    key = lesson.key
    lines = []
    if key is not None:
        lines.append(f"{key.name}, {key.signs}; its relative is {key.relative}.")
        if key.later:
            lines.append(capital(f"{listed(list(key.later))}."))
    lines.append(
        "Play it through below, with either hand, before any accompaniment. Chord names stand "
        "only where root and third really sound."
    )
    others = _other_players(lesson)
    if others:
        lines.append(
            f"With {others}: what stands below is the harp's own line, and not always the tune."
        )
    if any(m.open for m in lesson.melody):
        lines.append("A question mark stands over a note that is left open.")
    left_out = [m.measure.index for m in lesson.melody if m.is_left_out]
    if left_out:
        where = span_text(lesson.piece.measures, left_out)
        lines.append(f"In {where} its rhythm has no usual note values; read it in the score.")
    doubtful = list(in_doubt(lesson.piece.score, lesson.piece.staves))
    if doubtful:
        indices = [i for a, b in doubtful for i in range(a.index, b.index + 1)]
        where = span_text(lesson.piece.measures, indices)
        lines.append(f"In {where} broken chords go on: no line of their own, follow the chords.")
    return Section("key", "Key and melody", tuple(lines), share=10, rank=0)


def _other_players(lesson: Lesson) -> str:
    """The parts beside this harp that have notes."""
    own = {staff.part for staff in lesson.piece.staves}
    parts = [p for p in lesson.piece.score.parts if p.id not in own]
    return listed([p.name or "another part" for p in parts if any(m.notes for m in p.measures)])


def _techniques(lesson: Lesson) -> Section | None:
    items = tuple(
        Item(t.name, f"{t.means}; {t.asks}.", tag=t.where, short=f"{t.name.lower()} ({t.where})")
        for t in lesson.techniques
    )
    if not items:
        return None
    return Section("techniques", "What the hands meet", (_FILLS,), items, share=34, rank=4)


def _hard(lesson: Lesson) -> Section | None:
    if not lesson.hard:
        return None
    used = dict.fromkeys(way.how for place in lesson.hard for way in place.ways)
    level = lesson.piece.difficulty.level.word.replace("-", " ")
    line = (
        f"Hardest first; an order and no more. The whole stands at the level “{level}”."
        if level != "beyond"
        else "Hardest first; an order and no more. The whole asks for more than any level here."
    )
    if all(place.level < lesson.piece.difficulty.level for place in lesson.hard):
        line = f"{line[:-1]} for its key signature."
    how = tuple(Item(f"{name}:", HOW[name]) for name in used)
    return Section(
        "hard",
        "The hard places",
        (line,),
        tuple(_place(place) for place in lesson.hard),
        is_ordered=True,
        share=44,
        rank=1,
        after=tuple(f"{item.lead} {item.text}" for item in how),
    )


def _place(place: HardPlace) -> Item:
    again = f"; again in {place.again}" if place.again else ""
    ways = tuple(f"{way.how}: {way.text}." for way in place.ways)
    level = place.level.word.replace("-", " ")
    return Item(place.where, place.why + again, ways, tag=level, short=place.where)


def _moves(lesson: Lesson) -> Section | None:
    if not lesson.gestures:
        return None
    total = len(lesson.piece.told.moves)
    ways = len(lesson.gestures)
    line = capital(counted(total, "lever move"))
    if ways != total:
        line += f" in {counted(ways, 'gesture')}"
    line += ": count aloud, and put the flick on its beat every time."
    tight = sorted(g.spare for g in lesson.gestures)
    if tight:
        line += f" The tightest has {seconds_text(tight[0])} to spare at tempo."
    items = tuple(_gesture(g) for g in lesson.gestures)
    return Section("moves", "Lever moves, rehearsed", (line,), items, share=40, rank=1)


def _gesture(gesture: Gesture) -> Item:
    text = f"{gesture.levers}, {gesture.hand}"
    spare = f"; {gesture.spare_text} to spare" if gesture.spare_text.endswith(" s") else ""
    extra = [f"{capital(gesture.way)}{spare}."]
    if gesture.meanwhile:
        extra.append(f"{gesture.meanwhile}.")
    levers = ", ".join(gesture.names)
    short = f"{gesture.where} {levers} {gesture.hand}"
    return Item(gesture.where, text, tuple(extra), gesture.count, short=short)


def _glissandi(lesson: Lesson) -> Section | None:
    if not lesson.glissandi:
        return None
    items = []
    for one in lesson.glissandi:
        ways = tuple(f"Or: {option}." for option in one.options)
        items.append(Item(one.where, f"{one.text}.", ways, short=one.where))
    has_options = any(one.options for one in lesson.glissandi)
    lines: tuple[str, ...] = ()
    if has_options:
        lines = ("Other ways that were weighed; try them, and keep what sounds best.",)
    elif not lesson.has_log and lesson.is_ours:
        lines = ("The other ways stand in the change log, which was not beside the score.",)
    return Section("glissandi", "Glissandi to try", lines, tuple(items), share=14, rank=5)


def _ideas(lesson: Lesson) -> Section | None:
    items = tuple(_ideas_of(lesson))
    if not items:
        return None
    return Section("ideas", "To make it longer or fuller", (), items, share=12, rank=7)


def _ideas_of(lesson: Lesson) -> Iterator[Item]:
    for idea in lesson.repeats:
        yield Item(idea.where, f"{idea.text}.", tag="repeat", short=f"repeat {idea.where}")
    for idea in lesson.bare:
        yield Item(idea.where, f"{idea.text}.", tag="fill out", short=f"fill out {idea.where}")


def title_of(lesson: Lesson, file: str) -> str:
    """What the page is called."""
    return lesson.piece.score.title or file


def facts(lesson: Lesson, book: str) -> str:
    """The line under the title: harp, tuning, strings, tempo, moves."""
    piece = lesson.piece
    strings = piece.harp.strings
    compass = f"{len(strings)} strings, {strings[0].name} to {strings[-1].name}"
    told = [
        f"{piece.harp.name}: {compass}, tuned in {signed(piece.harp.tuning)}",
        counted(len(piece.measures), "measure"),
    ]
    tempo = tempo_text(piece, 0)
    if tempo:
        told.append(tempo)
    told.append(counted(len(piece.told.moves), "lever move"))
    told.append(f"rule book {book}")
    return ". ".join((told[0], ", ".join(told[1:]))) + "."
