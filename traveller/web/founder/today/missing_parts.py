"""What closed batches did not bring, with its way out: made again."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from traveller.journal.refusal import Refusal
from traveller.orders.actions.make_again import make_again
from traveller.orders.missing import Missing, missing
from traveller.rules.codes import show_code as show_code
from traveller.web.door import attempt
from traveller.web.founder.desk.frame import Desk, event_context_of, founder_page, link_to
from traveller.web.founder.desk.listing import answer_again, back_to
from traveller.web.founder.work.batches import batch_or_404, context_of
from traveller.web.templatetags.look import whole


def missing_lines(order_id: int | None = None) -> list[dict[str, Any]]:
    """As the pages list them: one line a batch and order line."""
    return [{"row": row, "words": words_of(row)} for row in missing(order_id=order_id)]


def words_of(row: Missing) -> str:
    figures = {
        "n": whole(row.missing),
        "share": whole(row.share),
        "part": row.part.title,
        "code": show_code(row.batch.code),
        "order": row.line.order.number,
    }
    if not row.brought:
        return _("%(n)s %(part)s are missing for order %(order)s: batch %(code)s brought no good piece.") % figures
    return _("%(n)s of %(share)s %(part)s are missing for order %(order)s: batch %(code)s brought no more.") % figures


@founder_page
@require_POST
def again(request: HttpRequest, desk: Desk, code: str) -> HttpResponse:
    """Open a batch for what is missing, and go to it."""
    batch = batch_or_404(code)
    event_context = event_context_of(request, desk)
    answer = (
        event_context
        if isinstance(event_context, Refusal)
        else attempt(make_again, event_context=event_context, batch_id=batch.pk)
    )
    if isinstance(answer, Refusal):
        context = {**context_of(batch, desk), "here": link_to("batch", batch.code)}
        return answer_again(request, desk, "work/batch.html", context, answer)
    return back_to("batch", answer.code, reported=event_context.uid if not isinstance(event_context, Refusal) else None)
