"""What must be brought where, and what must be bought: each free piece counted once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from datetime import date

from sites.models import SiteKind
from traveller.dispatches.models import SentFor
from traveller.orders.calendars import Calendars
from traveller.orders.dates import Demand
from traveller.orders.network import Network
from traveller.orders.planned import Issue, Share, Shortage
from traveller.orders.shares import Shares
from traveller.orders.stock import Stock
from traveller.rules.netting import NetNeed


def issues_and_shortages(
    network: Network,
    calendars: Calendars,
    needs: Mapping[str, NetNeed],
    shares: Shares,
    demands: Mapping[str, list[Demand]],
    stock: Stock,
) -> tuple[list[Issue], list[Shortage]]:
    """Issues by part and consuming site; shortages of what is bought."""
    issues: list[Issue] = []
    shortages: list[Shortage] = []
    for part in (key for key in needs if key in network.parts):
        own = _issues(network, calendars, part, demands.get(part, []), stock)
        issues += [issue for issue in own if _worth_showing(issue)]
        need = needs[part]
        if not network.is_made(part) and need.gross > need.from_free:
            shortages.append(_shortage(network, need, own, shares))
    return issues, shortages


def _worth_showing(issue: Issue) -> bool:
    return issue.purpose == SentFor.FREE_ISSUE or issue.to_send > 0


def _issues(network: Network, calendars: Calendars, part: str, demands: list[Demand], stock: Stock) -> list[Issue]:
    row = network.parts[part]
    free: dict[int, int] = defaultdict(int)
    for shelf in stock.shelves:
        if shelf.part_id == row.pk:
            free[shelf.site_id] += shelf.free
    needed: dict[int, int] = defaultdict(int)
    first: dict[int, date] = {}
    for demand in demands:
        needed[demand.site_id] += demand.quantity
        first[demand.site_id] = min(demand.on, first.get(demand.site_id, demand.on))
    order = sorted(needed, key=lambda site_id: (first[site_id], site_id))
    there: dict[int, int] = {}
    # Each site keeps what it needs of its own; only what is beyond goes elsewhere.
    for site_id in order:
        there[site_id] = min(needed[site_id], free[site_id])
        free[site_id] -= there[site_id]
    found: list[Issue] = []
    for site_id in order:
        rest = needed[site_id] - there[site_id]
        sources: list[tuple[str, int]] = []
        for origin_id in sorted(free):
            part_sent = min(rest, free[origin_id])
            if part_sent > 0 and origin_id != site_id:
                sources.append((calendars.sites[origin_id].code, part_sent))
                free[origin_id] -= part_sent
                rest -= part_sent
        site = calendars.sites[site_id]
        is_issue = site.kind == SiteKind.SUBCONTRACTOR and not network.is_made(part)
        found.append(
            Issue(
                part=part,
                title=row.title,
                unit=row.unit,
                site=site.code,
                purpose=SentFor.FREE_ISSUE.value if is_issue else SentFor.STOCK.value,
                needed=needed[site_id],
                there=there[site_id],
                to_send=sum(quantity for _, quantity in sources),
                sources=tuple(sources),
                to_come=rest,
                needed_on=first[site_id],
            )
        )
    return found


def _shortage(network: Network, need: NetNeed, issues: list[Issue], shares: Shares) -> Shortage:
    row = network.parts[need.part]
    lines: dict[int, int] = defaultdict(int)
    for given in (shares.under_way[need.part], shares.rest[need.part]):
        for line_id, quantity in given.items():
            lines[line_id] += quantity
    return Shortage(
        part=need.part,
        title=row.title,
        unit=row.unit,
        kind=row.kind,
        needed=need.gross,
        from_free=need.from_free,
        waiting=need.from_under_way,
        short=need.to_make_or_buy,
        needed_on=min(issue.needed_on for issue in issues),
        supplier=row.supplier.code if row.supplier else "",
        deliver=tuple((issue.site, issue.to_come) for issue in issues if issue.to_come),
        lines=tuple(
            Share(line.pk, line.order.number, line.number, lines[line.pk])
            for line in shares.lines
            if lines.get(line.pk)
        ),
    )
