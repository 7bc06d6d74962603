"""The shop's list: what is here, what comes, what is to be sent; the overdue first, and what each waits for."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from typing import Any

from django.core.paginator import Paginator
from django.db.models import Prefetch
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from traveller.batches.proof.stops import Stop
from traveller.batches.reads import queries
from traveller.batches.reads.queries import Task
from traveller.batches.reads.todo import held_among, steps_of, turns_at
from traveller.batches.reads.waiting import Inside, Waiting, inside_of
from traveller.batches.usable import after_step, usable_goods
from traveller.dispatches.models import Consignment
from traveller.ledger.models import Account
from traveller.products.models import Part
from traveller.web.operator.awaited import awaited
from traveller.web.operator.both_counts import LISTED_MOST, lately_counted, lately_sent
from traveller.web.operator.deeds import inside_words
from traveller.web.operator.shop import at_work, page, site_of
from traveller.web.status_words import stop_in_a_word

# A thumb scrolls through so many; the rest stands on further pages.
EACH_PAGE = 40
# So long what arrived stays on its sender's list, and on the list of who has counted it.
LATELY = timedelta(days=7)


@at_work
def today(request: HttpRequest) -> HttpResponse:
    site, now = site_of(request), timezone.now()
    on = timezone.localtime(now, site.zone).date()
    turns = Paginator(turns_at(site.pk, on), EACH_PAGE).get_page(request.GET.get("page"))
    shown = list(turns.object_list)
    steps = steps_of(shown)
    held = held_among([step.batch.lot_id for step in steps.values() if step.batch.lot_id])
    tasks = [
        Task(step.batch, step, turn.here, turn.rework, step.batch.lot_id in held, turn.since)
        for turn in shown
        if (step := steps.get(turn.step_id))
    ]
    words = awaited(tasks, site.zone, now)
    inside = inside_of(task.step.pk for task in tasks)
    to_send = queries.lots_waiting_to_be_sent(site.pk)
    goods = {account.pk: after_step(account.lot_id, account.step) for account in to_send}
    stops = usable_goods(set(goods.values()), "send", on)
    first = turns.number == 1
    sent = lately_sent(site.pk, now - LATELY) if first else []
    counted = lately_counted(site.pk, now - LATELY) if first else []
    context: dict[str, Any] = {
        "rows": [_row(task, words[task.step.pk], inside.get(task.step.pk, ()), on) for task in tasks],
        "turns": turns,
        "first_page": first,
        **_some("coming", list(_coming(site.pk)[: EACH_PAGE + 1])),
        "sent": sent[:LISTED_MOST],
        "sent_more": len(sent) > LISTED_MOST,
        "counted": counted[:LISTED_MOST],
        **_some("to_send", [account for account in to_send if stops[goods[account.pk]] is None]),
        **_some("set_apart", [_apart(account, stop) for account in to_send if (stop := stops[goods[account.pk]])]),
    }
    return page(request, "today.html", context)


def _row(task: Task, words: list[str], loads: Sequence[Inside], on: Any) -> dict[str, Any]:
    due, waits = task.batch.due_on, Waiting(task.here, task.rework, loads)
    inside = inside_words(waits)
    said = [inside, *words] if inside else words
    return {"task": task, "here": waits.here, "words": said, "late": due is not None and due < on, "due_on": due}


def _apart(account: Account, stop: Stop) -> dict[str, Any]:
    mark, word = stop_in_a_word(stop.code)
    return {"account": account, "mark": mark, "word": word}


def _some(name: str, rows: list[Any]) -> dict[str, Any]:
    """As many as a page holds, and whether there are more."""
    return {name: rows[:EACH_PAGE], f"{name}_more": max(0, len(rows) - EACH_PAGE)}


def _coming(site_id: int) -> Any:
    rows = Consignment.objects.filter(destination=site_id, received_at=None).select_related("origin")
    return rows.prefetch_related(Prefetch("lines__lot__part", Part.objects.defer("picture"))).order_by("sent_at")
