"""Reads that pages need."""

from __future__ import annotations

from collections.abc import Iterable

from traveller.products.models import Operation


def verbs_of(routing_ids: Iterable[int]) -> dict[tuple[int, int], str]:
    """What is done at each step of these routings; one query."""
    rows = Operation.objects.filter(routing__in=list(routing_ids)).values_list("routing_id", "number", "verb")
    return {(routing_id, number): verb for routing_id, number, verb in rows}
