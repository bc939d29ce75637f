"""The files that may be written beside a result."""

import json
from typing import Any

from arrange.pipeline import Conversion
from arrange.report.changes_md import changes_markdown
from arrange.report.extras import (
    MARKDOWN,
    PDF,
    PROOF,
    REVIEW,
    SIGN_OFF,
    SIGN_OFF_TEXT,
    Extras,
)
from arrange.report.proof import performance_of, printed, proof_of, rights_of
from arrange.report.proofs.records import Proof, proof_record
from arrange.report.review.reviewing import review_page
from arrange.report.sign_off import sign_off_sheet
from arrange.report.sign_off_pages import sign_off_html, sign_off_markdown
from arrange.score.container import read_source_bytes


def extra_files(
    extras: Extras, conversion: Conversion, record: dict[str, Any]
) -> dict[str, bytes]:
    """The bytes of every file asked for, by its ending.

    Args:
        extras: what is asked for.
        conversion: what came of it.
        record: its summary.

    Raises:
        BadInput: what printing needs is not installed.
    """
    found: dict[str, bytes] = {}
    if extras.markdown:
        found[MARKDOWN] = changes_markdown(conversion, record).encode()
    proof: Proof | None = None
    if extras.pdf or extras.sign_off:
        proof, pages = _printed(extras, conversion, record["result"]["file"])
        if extras.pdf:
            found[PDF] = pages
            content = proof_record(proof, record["result"])
            found[PROOF] = (json.dumps(content, indent=2, ensure_ascii=False) + "\n").encode()
    if extras.sign_off:
        sheet = sign_off_sheet(record, conversion.score.title, proof)
        found[SIGN_OFF] = sign_off_html(sheet).encode()
        found[SIGN_OFF_TEXT] = sign_off_markdown(sheet).encode()
    if extras.review:
        found[REVIEW] = review_page(conversion, record).encode()
    return found


def _printed(extras: Extras, conversion: Conversion, name: str) -> tuple[Proof, bytes]:
    score_bytes = read_source_bytes(conversion.result, name).score_bytes
    player = conversion.settings.book.player
    performance = performance_of(conversion.score, player, conversion.instructions)
    sheet = printed(score_bytes, name, extras.paper, performance)
    source = conversion.source
    proof = proof_of(sheet, performance, rights_of(source.score_bytes, source.name))
    return proof, sheet.pdf() if extras.pdf else b""
