"""Reads that pages need."""

from __future__ import annotations

from collections.abc import Iterable

from django.db.models import OuterRef, QuerySet, Subquery

from traveller.products.models import BillLine, Operation, Routing


def present_routings() -> QuerySet[Routing]:
    """Each part's latest routing: what a batch released now would follow."""
    newest = Routing.objects.filter(part=OuterRef("part")).order_by("-revision").values("pk")[:1]
    return Routing.objects.filter(pk=Subquery(newest)).order_by("part", "pk")


def present_bill() -> QuerySet[BillLine]:
    """The lines of present bills; `routing.part_id` is read along."""
    return BillLine.objects.filter(routing__in=present_routings().order_by()).select_related("routing")


def verbs_of(routing_ids: Iterable[int]) -> dict[tuple[int, int], str]:
    """What is done at each step of these routings; one query."""
    rows = Operation.objects.filter(routing__in=list(routing_ids)).values_list("routing_id", "number", "verb")
    return {(routing_id, number): verb for routing_id, number, verb in rows}
