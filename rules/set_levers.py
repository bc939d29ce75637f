"""Writes each note as the string it is played on, and repairs what no lever can give in time."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import ClassVar

from arrange.changes import Change, Fidelity, Option, Refusal, RuleId, Where
from arrange.edits import NoteEdit, NoteValue, RemoveNote, SetPitch
from arrange.hands.player import Player
from arrange.harp.harp import Harp
from arrange.harp.wording import class_in_words, note_in_words
from arrange.levers.problem import Choice
from arrange.pitch import Pitch
from arrange.rule import Keeps, Proposal, Rewrites, Rule, Stage
from arrange.score.model import EventId, Score
from arrange.score.plucks import PluckKind
from arrange.sources import COMMON_PRACTICE, HOUSE_JUDGEMENT, Source
from arrange.study.decided import (
    ASIDE,
    NOTHING_DECIDED,
    Decided,
    choice_key,
    without_aside,
)
from arrange.study.giving_way import GivingWay
from arrange.study.levering import Treatment, plan_with_repairs
from arrange.study.planning import pitch_of
from arrange.study.prices import PriceList
from arrange.study.terms import Terms


@dataclass(frozen=True, slots=True, kw_only=True)
class SetLevers(Rule):
    """Homes and repairs, from one exact plan of all the levers.

    What it does:
        Chooses, for every note, the string and lever position that give it, so that the price
        of all moves, presets and repairs together is least; writes the note as the string is
        called, and where no lever can be moved in time moves an inner note an octave or leaves
        one out.

    Why it helps:
        A harpist reads the string to play; and a change of octave in an inner voice costs less
        than a move that no hand has time for.

    When it holds back:
        Melody notes and bass roots are never moved or left out: they become open points.

    What it costs:
        EXACT for another spelling, IDIOMATIC for an inner note an octave away, LOSSY for a
        note left out.

    Sources:
        Notation by the string: published notation manuals (common practice); the prices are
        house judgement.
    """

    id: ClassVar[RuleId] = "set-levers"
    stage: ClassVar[Stage] = Stage.LEVERS
    sources: ClassVar[tuple[Source, ...]] = (COMMON_PRACTICE, HOUSE_JUDGEMENT)
    examples: ClassVar[tuple[Rewrites | Keeps, ...]] = (
        Rewrites(
            title="a D sharp that the E string has with its lever down becomes E flat",
            before="key=-3 | G4q F4q D#4q C4q",
            after="key=-3 | G4q F4q Eb4q C4q",
        ),
        Rewrites(
            title="a C flat is the B string with its lever up",
            before="key=-3 | Eb5h Cb5h | Ab4w",
            after="key=-3 | Eb5h B4h | Ab4w",
        ),
        Keeps(
            title="a D sharp stays where the E string sounds E natural beside it",
            score="key=4 | E4+D#4w",
            because="the E string cannot be E flat and E natural at once; the D lever goes up",
        ),
        Keeps(
            title="a melody note that no lever can give in time is not taken away",
            score="key=-3 tempo=160 | C5e C#5e C5e C#5e C5e C#5e C5e C#5e",
            because="melody is never traded; it is left to the editor",
        ),
        Keeps(
            title="the bass of a strong beat does not rise above its own figure",
            score="key=0 tempo=240\nRH: G4+E5h G4+E5h | G4+E5h G4+E5h\n"
            "LH: C2e G2e E3e G2e C2e G2e E3e G2e | C#2e G2e E3e G2e C2e G2e E3e G2e",
            because="with C sharp an octave higher the chord would stand on its fifth",
        ),
        Keeps(
            title="chords do not lose a note over and over for one note of the melody",
            score="key=0 tempo=240\n"
            "RH: F#5e C6+A5+F5e C6+A5+F5e C6+A5+F5e C6+A5+F5e C6+A5+F5e C6+A5+F5e C6+A5+F5e | "
            "C6+A5+F5e C6+A5+F5e C6+A5+F5e C6+A5+F5e C6+A5+F5e C6+A5+F5e C6+A5+F5e C6+A5+F5e",
            because="one lever setting would cost fifteen chords their F; the editor decides",
        ),
    )

    prices: PriceList = PriceList()
    decided: Decided = NOTHING_DECIDED
    """What an editor has decided beforehand."""
    limit: Fidelity = Fidelity.LOSSY
    """The furthest that a repair may go."""

    def propose(self, score: Score, harp: Harp, player: Player) -> Iterator[Proposal]:
        """Yield one change for each note that gets another spelling, octave, or is left out."""
        done: set[EventId] = set()
        chosen = self.decided.chosen(self.id)
        for plan in plan_with_repairs(
            score, Terms(harp, player, self.prices, decided=self.decided), self.limit
        ):
            words = GivingWay(score, plan, harp)
            for treatment in plan.treatments:
                note_id = treatment.pluck.note
                if treatment.pluck.kind is PluckKind.AUXILIARY or note_id in done:
                    continue
                done.add(note_id)
                change = self._change(treatment, score, harp, words)
                if change is not None:
                    yield change
                if note_id in chosen and chosen[note_id] != choice_key(treatment.choice, harp):
                    yield Refusal(self.id, note_id, chosen[note_id], _why_not(treatment, harp))
        for note_id, key in chosen.items():
            if note_id not in done:
                yield Refusal(self.id, note_id, key, "no string is plucked for this note any more")

    def _change(
        self, treatment: Treatment, score: Score, harp: Harp, words: GivingWay
    ) -> Change | None:
        pluck = treatment.pluck
        first = score.notes_by_id[pluck.note]
        if treatment.label == "open":
            return None
        edits = tuple(self._edits(treatment, score))
        if not edits:
            return None
        reason, fidelity = _reason(treatment, words)
        return Change(
            rule=self.id,
            where=Where.of_note(score, first),
            reason=reason,
            fidelity=fidelity,
            edits=edits,
            options=_options(treatment, harp) if _has_other_ways(treatment) else (),
        )

    def _edits(self, treatment: Treatment, score: Score) -> Iterator[NoteEdit]:
        for note_id in (*treatment.pluck.tied, *treatment.pluck.doubles):
            note = score.notes_by_id[note_id]
            if treatment.pitch is None:
                yield RemoveNote(note_id, NoteValue.of(note))
            elif note.pitch != treatment.pitch:
                before = NoteValue.of(note)
                yield SetPitch(note_id, before, replace(before, pitch=treatment.pitch))


def _reason(treatment: Treatment, words: GivingWay) -> tuple[str, Fidelity]:
    was, now = treatment.pluck.pitch, treatment.pitch
    if now is None:
        stands = words.stands_for(treatment)
        kept = f"its string {stands}" if stands else "its lever cannot be set in time"
        sentence = f"The {note_in_words(was)} is left out: {kept}, and {words.spared(treatment)}."
        return sentence, Fidelity.LOSSY
    if treatment.label == "octave":
        stands = words.stands_for(treatment)
        kept = f"its own string {stands}" if stands else "its own lever cannot be set in time"
        sentence = f"The {note_in_words(was)} is played as {note_in_words(now)}: {kept}."
        return sentence, Fidelity.IDIOMATIC
    sentence = (
        f"{class_in_words(was)} is played on the {now.step} string, so it is written "
        f"{class_in_words(now)}."
    )
    return sentence, Fidelity.EXACT


def _has_other_ways(treatment: Treatment) -> bool:
    """Whether the note was altered, or has more strings than one."""
    homes = sum(1 for choice in treatment.options if choice.label == "home")
    return treatment.label != "home" or homes > 1


def _why_not(treatment: Treatment, harp: Harp) -> str:
    return (
        "the lever cannot be set in time"
        if any(choice.cost >= ASIDE for choice in treatment.options)
        else f"the note has other ways here: {_keys(treatment, harp)}"
    )


def _keys(treatment: Treatment, harp: Harp) -> str:
    return ", ".join(choice_key(choice, harp) for choice in treatment.options)


def _options(treatment: Treatment, harp: Harp) -> tuple[Option, ...]:
    return tuple(
        Option(
            _option_text(choice, treatment.pluck.pitch, harp),
            without_aside(choice.cost),
            choice == treatment.choice,
            choice_key(choice, harp),
        )
        for choice in treatment.options
    )


def _option_text(choice: Choice, pitch: Pitch, harp: Harp) -> str:
    played = choice.played
    match choice.label:
        case "octave" if played is not None:
            return f"play it an octave away, as {note_in_words(pitch_of(harp, played))}"
        case "home" if played is not None:
            string = harp.strings[played[0]].letter
            return f"play {class_in_words(pitch)} on the {string} string, its lever's moves on top"
        case "omit":
            return "leave it out"
        case _:
            return "leave it to the editor"
