"""A kit in progress: what was typed and scanned so far. It lives in the form, and in the session for a reload."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from django.http import HttpRequest

from traveller.shipping.kit import KitPart
from traveller.shipping.queries import PackShelf

SESSION_KEY = "kits"
LOTS_MAX = 200


@dataclass
class Progress:
    """`quantity` as typed; `lots` in the order of their scans; `exact` how many of a lot, where that was typed."""

    quantity: str = ""
    lots: list[int] = field(default_factory=list)
    exact: dict[int, str] = field(default_factory=dict)

    def add(self, lot_id: int) -> None:
        if lot_id not in self.lots and len(self.lots) < LOTS_MAX:
            self.lots.append(lot_id)

    def drop(self, lot_id: int) -> None:
        self.lots = [pk for pk in self.lots if pk != lot_id]
        self.exact.pop(lot_id, None)


def recalled(request: HttpRequest, line_id: int) -> Progress:
    kept: Any = request.session.get(SESSION_KEY, {}).get(str(line_id))
    if not kept:
        return Progress()
    exact = {int(pk): str(text) for pk, text in kept["exact"].items()}
    return Progress(str(kept["quantity"]), [int(pk) for pk in kept["lots"]], exact)


def posted(request: HttpRequest) -> Progress:
    """From the form itself, so that the same form sent twice says the same twice."""
    lots = [int(text) for text in request.POST.getlist("lot") if text.isascii() and text.isdecimal()][:LOTS_MAX]
    exact = {pk: text for pk in lots if (text := request.POST.get(f"take:{pk}", "").strip()[:12])}
    return Progress(request.POST.get("quantity", "").strip()[:20], list(dict.fromkeys(lots)), exact)


def keep(request: HttpRequest, line_id: int, progress: Progress) -> None:
    exact = {str(pk): text for pk, text in progress.exact.items()}
    kept = {"quantity": progress.quantity, "lots": progress.lots, "exact": exact}
    request.session[SESSION_KEY] = {**request.session.get(SESSION_KEY, {}), str(line_id): kept}


def forget_scans(request: HttpRequest, line_id: int) -> None:
    rest = {key: kept for key, kept in request.session.get(SESSION_KEY, {}).items() if key != str(line_id)}
    request.session[SESSION_KEY] = rest


def share_scanned(kit: Iterable[KitPart], scanned: Iterable[PackShelf], exact: Mapping[int, int]) -> dict[int, int]:
    """How many of each scanned lot go in: what was typed, then what the kit still lacks, in the order of the scans."""
    lots = list(scanned)
    takes: dict[int, int] = {}
    for row in kit:
        own = [shelf for shelf in lots if shelf.part_id == row.part.pk]
        for shelf in own:
            if shelf.lot_id in exact:
                takes[shelf.lot_id] = exact[shelf.lot_id]
        lacking = row.quantity - sum(takes.get(shelf.lot_id, 0) for shelf in own)
        for shelf in own:
            if shelf.lot_id not in exact:
                takes[shelf.lot_id] = max(0, min(lacking, shelf.balance))
                lacking -= takes[shelf.lot_id]
    return takes
