"""What may be written beside a result: Markdown, pages, proof, sign-off sheet, review page."""

import json
from dataclasses import dataclass
from typing import Any

from arrange.pipeline import Conversion
from arrange.report.changes_md import changes_markdown
from arrange.report.engraving.papers import A4, Paper
from arrange.report.proof import performance_of, printed, proof_of, rights_of
from arrange.report.proofs.records import Proof, proof_record
from arrange.report.review.reviewing import review_page
from arrange.report.sign_off import sign_off_sheet
from arrange.report.sign_off_pages import sign_off_html, sign_off_markdown
from arrange.score.container import read_source_bytes

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

    def files(self, conversion: Conversion, record: dict[str, Any]) -> dict[str, bytes]:
        """The bytes of every file asked for, by its ending.

        Args:
            conversion: what came of it.
            record: its summary.

        Raises:
            BadInput: what printing needs is not installed.
        """
        found: dict[str, bytes] = {}
        if self.markdown:
            found[MARKDOWN] = changes_markdown(conversion, record).encode()
        proof: Proof | None = None
        if self.pdf or self.sign_off:
            proof, pages = self._printed(conversion, record["result"]["file"])
            if self.pdf:
                found[PDF] = pages
                content = proof_record(proof, record["result"])
                found[PROOF] = (json.dumps(content, indent=2, ensure_ascii=False) + "\n").encode()
        if self.sign_off:
            sheet = sign_off_sheet(record, conversion.score.title, proof)
            found[SIGN_OFF] = sign_off_html(sheet).encode()
            found[SIGN_OFF_TEXT] = sign_off_markdown(sheet).encode()
        if self.review:
            found[REVIEW] = review_page(conversion, record).encode()
        return found

    def _printed(self, conversion: Conversion, name: str) -> tuple[Proof, bytes]:
        score_bytes = read_source_bytes(conversion.result, name).score_bytes
        player = conversion.settings.book.player
        performance = performance_of(conversion.score, player, conversion.instructions)
        sheet = printed(score_bytes, name, self.paper, performance)
        source = conversion.source
        proof = proof_of(sheet, performance, rights_of(source.score_bytes, source.name))
        return proof, sheet.pdf() if self.pdf else b""


NOTHING = Extras()
