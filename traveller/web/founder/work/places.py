"""Where pieces are, and where they go then, in words."""

from __future__ import annotations

from django.utils.translation import gettext as _

from traveller.batches.models import Step, StepState
from traveller.batches.reads.begun import has_begun, on_visit
from traveller.batches.reads.queries import Lie, Whereabouts
from traveller.ledger.models import Condition
from traveller.products.models import OperationKind
from traveller.rules.codes import show_code
from traveller.web.founder.desk.listing import amount


def code_words(code: str) -> str:
    """A code in groups that a line never breaks."""
    return show_code(code).replace("-", "\u2011")


def said_of(row: Whereabouts, lie: Lie) -> str:
    """The same inside a sentence: "697 in stock at Own bench"."""
    figures = {"n": amount(lie.quantity, row.batch.part.unit), "site": lie.site, "verb": lie.verb}
    if lie.condition == Condition.ON_THE_ROAD:
        return _("%(n)s on the road from %(site)s") % figures
    if lie.condition == Condition.PACKED:
        return _("%(n)s packed at %(site)s") % figures
    if lie.condition == Condition.REWORK:
        return _("%(n)s in rework at %(site)s, before %(verb)s") % figures
    if lie.condition == Condition.STOCK:
        return (
            _("%(n)s done at %(site)s, to be sent") if on_visit(row, lie) else _("%(n)s in stock at %(site)s")
        ) % figures
    return _("%(n)s at %(site)s, before %(verb)s") % figures


def place_words(row: Whereabouts, lie: Lie) -> str:
    """Site first, then what happens to the pieces there."""
    figures = {"site": lie.site, "step": lie.step, "verb": lie.verb}
    if lie.condition == Condition.ON_THE_ROAD:
        return _("On the road from %(site)s") % figures
    if lie.condition == Condition.PACKED:
        return _("%(site)s · packed") % figures
    if lie.condition == Condition.REWORK:
        return _("%(site)s · rework before %(step)s, %(verb)s") % figures
    if lie.condition == Condition.STOCK:
        return (_("%(site)s · done there, to be sent") if on_visit(row, lie) else _("%(site)s · in stock")) % figures
    step = _step(row, lie.step)
    running = step is not None and step.state == StepState.RUNNING
    return (
        _("%(site)s · %(step)s, %(verb)s, under way") if running else _("%(site)s · waits for %(step)s, %(verb)s")
    ) % figures


def idle_words(row: Whereabouts) -> str:
    """Where a batch is of which nothing lies anywhere."""
    step = row.current
    if step is None:
        return _("All used up")
    if row.batch.closed_at is not None:
        # Its last steps had nothing to be done with.
        return _("Closed: nothing of it is left")
    figures = {"site": step.site.name, "step": step.number, "verb": step.operation.verb}
    if not has_begun(row):
        return _("Not begun: starts at %(site)s with %(step)s, %(verb)s") % figures
    if step.state == StepState.RUNNING and row.batch.lot_id is None:
        return _("%(site)s · %(step)s, %(verb)s, begun, nothing counted yet") % figures
    if row.batch.lot_id is None:
        return _("%(site)s · waits for %(step)s, %(verb)s") % figures
    return _("No pieces left; %(step)s, %(verb)s, is not reported done") % figures


def then_words(row: Whereabouts, lie: Lie) -> str:
    """Where these pieces go once they are through at the site where they are."""
    done = lie.condition == Condition.STOCK
    if lie.condition == Condition.PACKED or (done and lie.step == 0 and lie.site_id == row.batch.destination_id):
        return ""
    if lie.condition == Condition.ON_THE_ROAD:
        step = _step(row, lie.step)
        return (_("to %(site)s") % {"site": step.site.name}) if step else _to_destination(row)
    for step in row.steps:
        if step.operation.kind == OperationKind.PREPARE or (done and lie.step == 0):
            continue
        if (step.number > lie.step) and step.site_id != lie.site_id:
            return _("to %(site)s, %(verb)s") % {"site": step.site.name, "verb": step.operation.verb}
    return _to_destination(row) if lie.site_id != row.batch.destination_id else _("to stock here")


def _to_destination(row: Whereabouts) -> str:
    return _("to %(site)s") % {"site": row.batch.destination.name}


def _step(row: Whereabouts, number: int) -> Step | None:
    return next((step for step in row.steps if step.number == number), None)
