"""What may be asked for beside a result: Markdown, pages, proof, sign-off sheet, review page."""

from dataclasses import dataclass

from arrange.report.engraving.papers import A4, Paper

MARKDOWN, PDF, PROOF = "changes.md", "pdf", "proof.json"
SIGN_OFF, SIGN_OFF_TEXT = "sign-off.html", "sign-off.md"
REVIEW = "review.html"


@dataclass(frozen=True, slots=True)
class Extras:
    """What is asked for beside the result.

    Attributes:
        markdown: the change log to read; *pdf*: the printed pages and their proof; *sign_off*:
            the sheet to sign, with the proof in it.
        paper: what is printed on; *review*: the page to look at, to hear and to decide on.
    """

    markdown: bool = False
    pdf: bool = False
    sign_off: bool = False
    paper: Paper = A4
    review: bool = False


NOTHING = Extras()
