"""Of which loads has anybody counted the pieces? A count that was taken back, or corrected to nothing, is none."""

from __future__ import annotations

from collections.abc import Iterable

from django.db.models import Sum

from traveller.batches.models import Count


def counted_loads(load_ids: Iterable[int]) -> set[int]:
    ids = list(load_ids)
    if not ids:
        return set()
    pieces = Sum("good") + Sum("scrap") + Sum("rework") + Sum("samples")
    rows = Count.objects.filter(load__in=ids).order_by().values_list("load").annotate(n=pieces)
    return {load for load, n in rows if load is not None and n}
