"""All pages of one moment, each beside the rows of that moment."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime

from tests.reckoning import first_page, kits, laws, orders, purchases, stock
from tests.reckoning.claims import Book
from tests.reckoning.goods import Known
from tests.reckoning.page import Page, read
from tests.reckoning.rows import Rows

Fetch = Callable[[str], str]


def reckon(rows: Rows, now: datetime, fetch: Fetch) -> Book:
    """Every page; `fetch` gives the text of an address as the founder gets it at that moment."""
    book = Book()
    known = Known(rows, now)
    for _address in each(known, fetch, book):
        pass
    book.where = "the ledger"
    for one in laws.broken(rows):
        book.differ(one)
    return book


def each(known: Known, fetch: Fetch, book: Book) -> Iterator[str]:
    """One page after the other, so that who looks for one difference may stop at the first."""

    def page(address: str) -> Page:
        book.where = f"{known.now:%a %d %b %H:%M} {address}"
        return read(address, fetch(address))

    stock.compare(page("/stock"), known, book)
    yield "/stock"
    purchases.compare(page("/purchases"), known, book)
    yield "/purchases"
    kits.compare(page("/kits"), known, book)
    yield "/kits"
    first_page.compare(page("/"), known, book)
    yield "/"
    orders.compare_list(page("/orders"), known, book)
    yield "/orders"
    for order in known.rows.orders.values():
        address = f"/orders/{order.number}"
        orders.compare_order(page(address), known, book, order)
        yield address
