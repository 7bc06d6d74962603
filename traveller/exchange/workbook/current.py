"""The database as a workbook: what an export writes, and what an import compares with.

Stock and batches are given as they were taken over, not as they lie today: importing an export changes nothing.
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

from sites.people import sounds
from traveller.exchange.workbook import rows as r
from traveller.exchange.workbook.known import Known, KnownPart
from traveller.exchange.workbook.lookup import confirmable_words
from traveller.exchange.workbook.sheets import SHEETS
from traveller.exchange.workbook.sources import SOURCES
from traveller.exchange.workbook.tables import load_row
from traveller.products.models import Check, Part

__all__ = ["from_database", "known_from"]

_EXTENSION = {"image/png": "png", "image/jpeg": "jpg"}


def from_database(*, pictures: bool = True) -> r.Workbook:
    """Everything that a workbook can say. Without `pictures` a part's picture is named by its digest alone."""
    names, contents = _pictures() if pictures else ({}, {})
    found: dict[str, tuple[Any, ...]] = {name: _rows(name) for name in SHEETS}
    found["parts"] = tuple(replace(row, picture=names.get(row.picture, row.picture)) for row in found["parts"])
    return r.Workbook(**found, pictures=contents, given=frozenset(SHEETS))


def _rows(name: str) -> tuple[Any, ...]:
    """One sheet as the database has it."""
    return tuple(load_row(SHEETS[name], source, **_parameters(source)) for source in SOURCES[name]())


def _parameters(source: object) -> dict[str, Any]:
    """A check's own columns, which its kind knows: beside the columns that every check has."""
    if not isinstance(source, Check):
        return {}
    return {"parameters": tuple(sorted((name, value) for name, value in source.parameters.items() if value))}


def known_from(workbook: r.Workbook) -> Known:
    """What references of another workbook may point at."""
    steps: dict[str, dict[int, str]] = {}
    for row in workbook.routings:
        steps.setdefault(row.part, {})[row.step] = row.site
    components: dict[str, list[str]] = {}
    for bill in workbook.bills:
        components.setdefault(bill.part, []).append(bill.component)
    people: dict[tuple[str, str], list[str]] = {}
    for person in workbook.people:
        people.setdefault((person.site, sounds(person.name)), []).append(person.name)
    return Known(
        sites={row.site: row.kind for row in workbook.sites},
        parts={
            row.part: KnownPart(
                row.kind, row.unit, steps.get(row.part, {}), tuple(components.get(row.part, ())), confirmable_words(row)
            )
            for row in workbook.parts
        },
        order_lines={(row.order, row.line): row.part for row in workbook.orders},
        lanes=frozenset((row.from_site, row.to_site) for row in workbook.lanes),
        people=people,
    )


def _pictures() -> tuple[dict[str, str], dict[str, bytes]]:
    """File name by digest, and content by file name; one file for all parts that share a picture."""
    names: dict[str, str] = {}
    contents: dict[str, bytes] = {}
    for part in Part.objects.exclude(picture_digest="").order_by("number").iterator(chunk_size=50):
        if part.picture_digest in names or part.picture is None:
            continue
        stem = re.sub(r"[^A-Za-z0-9._-]", "_", part.number).lstrip(".")
        name = f"pictures/{stem}.{_EXTENSION.get(part.picture_type, 'png')}"
        if name.casefold() in {other.casefold() for other in contents}:
            name = name.replace("pictures/", f"pictures/{part.picture_digest[:8]}-")
        names[part.picture_digest] = name
        contents[name] = bytes(part.picture)
    return names, contents
