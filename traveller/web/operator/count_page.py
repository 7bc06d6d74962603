"""The fields of a count as its page draws them, with what was typed, and the last answers offered again."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest
from django.utils import timezone
from django.utils.translation import gettext as _

from sites.access import narrow
from traveller.batches.models import Step, StepState
from traveller.batches.steps.shots import runs_since_count
from traveller.batches.usable import usable
from traveller.ledger.models import Account, Condition, Link
from traveller.products.frozen import bill_at
from traveller.products.models import OperationKind, Part
from traveller.rules.codes import show_code
from traveller.web.operator.counted import LOT, LOTS_EACH, REASON, reasons_of
from traveller.web.operator.reporting import SURE, carried
from traveller.web.operator.shop import actor_of
from traveller.web.pictures.reasons import drawing_for
from traveller.web.question_words import answers_to
from traveller.web.templatetags.look import whole
from traveller.web.words import say

_Row = dict[str, Any]
# So many lots are offered for one tap; more are scanned.
OFFERED = 4


def with_rows(request: HttpRequest, step: Step, context: dict[str, Any]) -> dict[str, Any]:
    """The context of the page with a row for every field."""
    wrong = context.get("wrong", {})

    def row(name: str, place: str, **more: Any) -> _Row:
        value = request.POST.get(name, more.pop("proposed", ""))
        return {"name": name, "id": f"id_{place}", "value": value, "error": wrong.get(name, ""), **more}

    cavities = step.open_cavities or step.operation.cavities
    return {
        "missing": None,
        **context,
        "plates": _plates(step, context, row),
        "shots_row": row("shots", "shots"),
        "cavities_row": row("open_cavities", "cavities", proposed=str(cavities), of=step.operation.cavities),
        "cavity_numbers": range(1, step.operation.cavities + 1) if step.operation.cavities <= 8 else (),
        "runs_before": runs_since_count(step) if step.operation.kind == OperationKind.MAKE else [],
        "lots": [] if context["again"] else _lots(request, step, row),
        # What was answered before this page stays answered; that it is the same is not answered for good.
        "carried": [(name, value) for name, value in carried(request) if name.startswith(SURE) and value == "yes"],
        "may_finish": not context["again"] and context["load"] is None and step.state != StepState.DONE,
        # Sentences whose figures the phone fills in, while they are typed.
        **more_asked(context.get("inside", 0)),
    }


def more_asked(inside: int) -> dict[str, object]:
    """The question about more pieces than wait here, with its answers; `inside`: so many are in a load."""
    code, figures = "more_than_there", {"counted": "{counted}", "there": "{there}"}
    if inside:
        code, figures = "more_than_wait", {**figures, "inside": whole(inside)}
    return {"more_code": code, "more_words": say(code, figures), "more_answers": answers_to(code, figures)}


def _plates(step: Step, context: dict[str, Any], row: Callable[..., _Row]) -> list[_Row]:
    """Where pieces went that are not good: each reason, then rework, then samples where the plan takes some."""
    found = [
        row(f"{REASON}{reason}", f"scrap{place}", words=reason, scrap=True, drawing=drawing_for(reason))
        for place, reason in enumerate(reasons_of(step))
    ]
    if not context["again"]:
        found.append(row("rework", "rework", words=_("For rework"), drawing="rework"))
    if step.operation.taken:
        found.append(row("samples", "samples", words=_("Taken as samples"), drawing="sample"))
    return found


def _lots(request: HttpRequest, step: Step, row: Callable[..., _Row]) -> list[dict[str, Any]]:
    """Each component of the bill here, with the lot scanned last time and those that lie here.

    The last one is proposed while some of it lies here. Where a single lot lies here nothing needs to be asked: what
    is left empty is recorded as used from the lots here.
    """
    bill = bill_at(step.batch.routing_id, step.number)
    parts = Part.objects.defer("picture").in_bulk([component for component, _per in bill])
    links = Link.objects.filter(child=step.batch.lot_id, inferred=False, quantity__gt=0).select_related("parent")
    last = {link.parent.part_id: link.parent.code for link in links.order_by("id")}
    rows = narrow(Account.objects.select_related("lot"), actor_of(request), "site").filter(
        lot__part__in=parts, condition=Condition.STOCK, balance__gt=0
    )
    here: dict[int, dict[str, str]] = {}
    lying_here = list(rows.order_by("lot__expires_on", "lot_id"))
    # What may not be used is not offered; that it was used all the same is news, and scanned.
    on = timezone.localtime(timezone.now(), step.site.zone).date()
    stops = usable({account.lot_id for account in lying_here}, "consume", on)
    for account in lying_here:
        if stops[account.lot_id] is None:
            here.setdefault(account.lot.part_id, {})[account.lot.code] = account.lot.outside_number
    found = []
    for pk in parts:
        lying = here.get(pk, {})
        proposed = last.get(pk, "") if last.get(pk, "") in lying or not lying else ""
        fields = [
            row(
                f"{LOT}{pk}:{place}",
                f"lot{pk}_{place}",
                proposed="" if place else show_code(proposed) if proposed else "",
            )
            for place in range(LOTS_EACH)
        ]
        offers = sorted(lying, key=lambda code: code != proposed)[:OFFERED]
        found.append(
            {
                "part": parts[pk],
                "fields": fields,
                "offers": [(show_code(code), lying[code]) for code in offers],
                "asked": not fields[0]["value"] and len(lying) != 1,
            }
        )
    return found
