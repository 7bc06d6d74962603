"""What may be told of a step, in the order of the work: the next thing as the great button, all else below it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Sum
from django.urls import reverse
from django.utils.translation import gettext as _

from traveller.batches.models import Count, Load, Step, StepState
from traveller.batches.proof import tester
from traveller.batches.proof.load_counts import counted_loads
from traveller.batches.reads.waiting import Waiting, waiting_at
from traveller.batches.usable import usable_to_start
from traveller.products.frozen import checks_of
from traveller.products.models import OperationKind
from traveller.rules.moments import later, on_clocks
from traveller.web.operator.proof import asks_log, without_log
from traveller.web.operator.wanted import still_asked, wanted_readings
from traveller.web.templatetags.look import whole


@dataclass(frozen=True, slots=True)
class Deed:
    """A button: where it leads and what it says. `post` does something at once."""

    words: str
    href: str
    post: bool = False


def inside_words(waiting: Waiting) -> str:
    """ "19 are in load 5 (Fixture 2)": what is here and does not wait; empty where nothing is in a load."""
    if not waiting.inside:
        return ""
    n, first = whole(waiting.inside), waiting.loads[0]
    if len(waiting.loads) > 1:
        return _("%(n)s are in %(loads)s loads") % {"n": n, "loads": whole(len(waiting.loads))}
    figures = {"n": n, "load": first.load, "place": first.place}
    return (
        _("%(n)s are in load %(load)s (%(place)s)") % figures
        if first.place
        else _("%(n)s are in load %(load)s") % figures
    )


def load_seconds(row: Step) -> int:
    """The longest time that a check of this step asks a load to stay, for the timer.

    By the clock alone: what a log must show, or a hopper's throughput, no timer can tell.
    """
    return max((plan.kind.timer(plan.params) or 0 for plan in checks_of(row.operation_id)), default=0)


def asks_loads(row: Step) -> bool:
    by_check = any(plan.kind.by_load or plan.scope == "load" for plan in checks_of(row.operation_id))
    return by_check or row.operation.load_size > 0


def out_url(load: Load) -> str:
    """A load is named by the id that its phone gave it, so that its way out is known before the server knows it."""
    return f"{reverse('here_out', args=[load.step_id])}?load={load.uid}"


def uncounted(row: Step, loads: Sequence[Load]) -> Load | None:
    """The first load that is out and whose pieces nobody has counted yet."""
    if row.operation.kind == OperationKind.PREPARE:
        return None
    out = [load for load in loads if load.ended_at is not None and load.quantity]
    reported = counted_loads(load.pk for load in out)
    return next((load for load in out if load.pk not in reported), None)


def load_room(row: Step, here: int, loads: Sequence[Load]) -> int:
    """Pieces that wait and are in no load yet; a step that prepares has room until one of its loads is out."""
    if row.operation.kind == OperationKind.PREPARE:
        return 0 if loads else 1
    if row.operation.kind == OperationKind.MAKE:
        return 1
    counted: dict[int | None, int] = dict(
        Count.objects.filter(load__in=loads)
        .values_list("load_id")
        .annotate(n=Sum("good") + Sum("scrap") + Sum("rework") + Sum("samples"))
    )
    return here - sum(max(0, load.quantity - counted.get(load.pk, 0)) for load in loads)


def deeds_of(
    row: Step, loads: Sequence[Load], here: int, rework: int, *, stopped: bool
) -> tuple[Deed | None, list[Deed]]:
    """The great button and the others; None where nothing is left to do here."""
    ways = _ways(row, rework)
    rest = _rest(row)
    done = Deed(_("Step is done"), reverse("here_finish", args=[row.pk]))
    every = [*ways, done, *rest]
    if row.state == StepState.WAITING and (stopped or not asks_loads(row)):
        start = Deed(
            _("Start: %(verb)s") % {"verb": row.operation.verb}, reverse("here_start", args=[row.pk]), post=True
        )
        return start, every
    great = _next(row, loads, here)
    if great is None and row.state == StepState.DONE:
        return None, [*ways, *rest]
    great = great or (done if not ways else ways[-1])
    return great, [deed for deed in every if deed.href != great.href]


def way_in(row: Step, now: datetime) -> str:
    """Where "yes, this one" leads: to the next thing itself where the step is under way, else to the step's page.

    A load whose time still runs is no reason to ask whether it is out: then the step's page shows its timer.
    """
    page = reverse("here_step", args=[row.pk])
    if row.state != StepState.RUNNING or usable_to_start([row], on_clocks(now, row.site.zone).date())[row.pk]:
        return page
    loads = list(Load.objects.filter(step=row, struck_by=None).order_by("number"))
    waits = waiting_at(row)
    inside = [load for load in loads if load.ended_at is None]
    if waits.rework or (inside and now < later(inside[0].started_at, timedelta(seconds=load_seconds(row)))):
        return page
    great = _next(row, loads, waits.lying)
    return great.href if great else page


def _next(row: Step, loads: Sequence[Load], here: int) -> Deed | None:
    """What the work asks for next, where the record can tell."""
    inside = [load for load in loads if load.ended_at is None]
    if not inside and (owed := _owed(row, here)):
        return owed
    if row.state == StepState.DONE:
        return None
    if inside:
        return Deed(_("Load %(number)d out") % {"number": inside[0].number}, out_url(inside[0]))
    out = uncounted(row, loads)
    if out:
        words = _("Count load %(number)d") % {"number": out.number}
        return Deed(words, f"{reverse('here_count', args=[row.pk])}?load={out.uid}")
    return _between_loads(row, loads, here)


def _owed(row: Step, here: int) -> Deed | None:
    """What proves the pieces that are through, while no load is in."""
    bare = without_log(row) if asks_log(row) else None
    if bare:
        words = _("Send the log of load %(number)d") % {"number": bare.number}
        return Deed(words, f"{reverse('here_proof', args=[row.pk])}?kind=log&load={bare.uid}")
    # Of a step that is done, too: its pieces wait for the try at the end of the shift.
    if tester.is_due(row, all_counted=here == 0 and bool(row.good or row.scrap)):
        return Deed(_("Try the known leak"), reverse("here_leak", args=[row.pk]))
    return None


def _between_loads(row: Step, loads: Sequence[Load], here: int) -> Deed | None:
    """All loads are out and counted, or there are none."""
    finish = Deed(_("Step is done"), reverse("here_finish", args=[row.pk]))
    if row.operation.kind == OperationKind.WORK and here == 0 and (row.good or row.scrap):
        return finish
    if asks_loads(row) and load_room(row, here, loads) > 0:
        return Deed(_("Load in"), reverse("here_load_in", args=[row.pk]))
    if still_asked(row):
        return Deed(_("Measure"), reverse("here_measure", args=[row.pk]))
    if row.operation.kind != OperationKind.PREPARE:
        return Deed(_("Count pieces"), reverse("here_count", args=[row.pk]))
    return finish if row.state == StepState.RUNNING else None


def _ways(row: Step, rework: int) -> list[Deed]:
    """All that may be told of this step again and again."""
    found = []
    if asks_loads(row):
        found.append(Deed(_("Load in"), reverse("here_load_in", args=[row.pk])))
    if wanted_readings(row):
        found.append(Deed(_("Measure"), reverse("here_measure", args=[row.pk])))
    if row.operation.kind != OperationKind.PREPARE:
        found.append(Deed(_("Count pieces"), reverse("here_count", args=[row.pk])))
    if tester.asked_of(row.operation_id):
        found.append(Deed(_("Try the known leak"), reverse("here_leak", args=[row.pk])))
    if rework:
        found.append(Deed(_("Count rework"), f"{reverse('here_count', args=[row.pk])}?again=1"))
    return found


def _rest(row: Step) -> list[Deed]:
    proof = _("Send the log") if asks_log(row) else _("Send a photo or certificate")
    found = [
        Deed(proof, reverse("here_proof", args=[row.pk])),
        Deed(_("Report a problem"), reverse("here_problem", args=[row.batch.code])),
    ]
    if row.operation.kind != OperationKind.PREPARE:
        found.append(Deed(_("Tote label"), reverse("here_label", args=[row.batch.code])))
    found.append(Deed(_("Something else happened"), reverse("here_else", args=[row.pk])))
    return found
