"""What a proof says: findings on the printed page."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from arrange.phrasing import counted

FORMAT = "leverwright-proof"
VERSION = 1


class Subject(StrEnum):
    """What a finding is about."""

    COLLISION = "collision"
    UNSEEN = "unseen"
    TURN = "page turn"
    MOVE_AFTER_TURN = "move after a turn"
    LEDGER_LINES = "ledger lines"
    STATEMENT = "title statement"
    MEASURE_NUMBERS = "measure numbers"
    STAVES = "staves"
    LETTERS = "letters"


ABOUT = {
    Subject.COLLISION: "words that meet other ink",
    Subject.UNSEEN: "words that the engraver did not draw",
    Subject.TURN: "turns for which no hand has time",
    Subject.MOVE_AFTER_TURN: "lever moves for the moment of a turn",
    Subject.LEDGER_LINES: "long passages on many ledger lines",
    Subject.STATEMENT: "what the first page must say",
    Subject.MEASURE_NUMBERS: "lines without a measure number",
    Subject.STAVES: "the size of staves",
    Subject.LETTERS: "signs that the print font lacks",
}


@dataclass(frozen=True, slots=True)
class ProofFinding:
    """Something that a publisher would mark.

    Attributes:
        page, system: counted from 1, 0 where it is about more than one.
        index: the measure, counted from 0, -1 for none; *measure*: its printed number.
        text: one sentence.
        words: the words on the page that it is about, or "".
        against: for a collision, what they meet: ``notes``, ``barline``, ``words``, ...
    """

    subject: Subject
    page: int
    system: int
    index: int
    measure: str
    text: str
    words: str = ""
    against: str = ""


@dataclass(frozen=True, slots=True)
class Proof:
    """The proof of one score.

    Attributes:
        paper: name of the sheet; *staff_mm*: how high a staff is printed.
    """

    paper: str
    pages: int
    staff_mm: float
    findings: tuple[ProofFinding, ...]

    @property
    def counts(self) -> dict[Subject, int]:
        """How many findings of each subject, those without any left out."""
        found = {s: sum(1 for f in self.findings if f.subject is s) for s in Subject}
        return {subject: number for subject, number in found.items() if number}


def proof_record(proof: Proof, score: Mapping[str, str]) -> dict[str, Any]:
    """The proof as JSON content; *score*: the file and its sha256."""
    return {
        "format": FORMAT,
        "version": VERSION,
        "score": dict(score),
        "paper": proof.paper,
        "pages": proof.pages,
        "staff_mm": round(proof.staff_mm, 2),
        "findings": [
            {
                "subject": f.subject.value,
                "page": f.page or None,
                "system": f.system or None,
                "index": None if f.index < 0 else f.index,
                "measure": f.measure or None,
                "words": f.words or None,
                "against": f.against or None,
                "text": f.text,
            }
            for f in proof.findings
        ],
    }


def proof_text(proof: Proof, name: str) -> str:
    """The proof in words, a line a finding."""
    number = len(proof.findings)
    head = (
        f"{name}: {counted(proof.pages, 'page')} of {proof.paper.upper()}, staves "
        f"{proof.staff_mm:.1f} mm high, {counted(number, 'finding') if number else 'no findings'}"
    )
    lines = [head]
    for subject in proof.counts:
        lines.append(f"{ABOUT[subject]}:")
        lines.extend(f"  {sentence(f)}" for f in proof.findings if f.subject is subject)
    return "\n".join(lines)


def sentence(finding: ProofFinding) -> str:
    """A finding with its place."""
    place = [f"page {finding.page}"] if finding.page else []
    place += [f"line {finding.system}"] if finding.system else []
    place += [f"measure {finding.measure}"] if finding.measure else []
    return f"{', '.join(place)}: {finding.text}" if place else finding.text
