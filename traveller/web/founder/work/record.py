"""The process record of a batch, as paper."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from traveller.batches.reads.record_paper import process_record
from traveller.batches.reads.record_rows import Voice
from traveller.paper.canvas import PaperSize
from traveller.web.founder.desk.frame import Desk, founder_page
from traveller.web.founder.work.batch_actions import heading_of, pdf
from traveller.web.founder.work.batches import batch_or_404
from traveller.web.log_words import understood
from traveller.web.words import say


@founder_page
@require_safe
def record(request: HttpRequest, desk: Desk, code: str) -> HttpResponse:
    """Every reading, verdict and decision; a copy of facts, so that drawing it tells nothing."""
    batch = batch_or_404(code)
    size: PaperSize = "Letter" if desk.bench is not None and desk.bench.paper == "Letter" else "A4"
    body = process_record(batch, heading=heading_of(batch, desk), voice=Voice(say, understood), size=size)
    return pdf(body, f"record-{batch.code}.pdf")
