"""What a phone sends of its queue, read by hand: anything else is said to be no queue, in words, and never a fault."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from typing import Any, NoReturn
from uuid import UUID

from sites.people import written

ENTRIES_MAX = 50
ENVELOPE_BYTES_MAX = 2_000_000
ENTRY_CHARS_MAX = 64_000
FIELDS_MAX = 500
NAME_MAX, VALUE_MAX, PATH_MAX, ID_MAX, PERSON_MAX = 200, 4_000, 600, 64, 80
SEQ_MAX = 2**53
# The last moment that a date can say, year 9999, as a phone counts: milliseconds since 1970.
MOMENT_MAX = 253_402_300_799_000
# What belongs to the page that was open, not to what was told on it.
OF_THE_PAGE = frozenset(("csrfmiddlewaretoken", "news_id"))


class Garbage(ValueError):
    """This is no queue of a phone; the text says what is wrong with it."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One form that waited: `news_id` its id, `at_ms` when it was tapped by the phone's own clock.

    `fault`: what cannot be read of it; then the rest is empty, and the other entries are none the worse.
    """

    id: str
    seq: int = 0
    uid: UUID | None = None
    at_ms: int = 0
    path: str = ""
    person: str = ""
    fields: tuple[tuple[str, str], ...] = ()
    fault: str = ""


@dataclass(frozen=True, slots=True)
class Envelope:
    """`sent_at_ms` is the phone's clock when it sent: what its clock is off by is measured from it."""

    site: int
    sent_at_ms: int
    entries: tuple[Entry, ...]


def read_envelope(body: bytes | str) -> Envelope:
    """The envelope with its entries in the order in which they were tapped."""
    if len(body) > ENVELOPE_BYTES_MAX:
        raise Garbage(f"more than {ENVELOPE_BYTES_MAX} bytes")
    try:
        found = json.loads(body, parse_constant=_no_number)
    except (ValueError, RecursionError) as error:
        raise Garbage("not JSON that can be read") from error
    if not isinstance(found, dict):
        raise Garbage("not an object")
    entries = found.get("entries")
    if not isinstance(entries, list) or len(entries) > ENTRIES_MAX:
        raise Garbage(f"`entries` is not a list of at most {ENTRIES_MAX}")
    return Envelope(
        site=_whole(found.get("site"), "site", 2**63 - 1),
        sent_at_ms=_whole(found.get("sent_at"), "sent_at", MOMENT_MAX),
        # Those that cannot be read come last: they have no place in the order.
        entries=tuple(sorted((_entry(entry) for entry in entries), key=lambda one: (bool(one.fault), one.seq))),
    )


def _entry(reported: Any) -> Entry:
    if not isinstance(reported, dict):
        raise Garbage("an entry is not an object")
    name = reported.get("id")
    if not isinstance(name, str) or not 0 < len(name) <= ID_MAX or not _storable(name):
        raise Garbage("an entry has no `id` to answer to")
    try:
        return Entry(
            id=name,
            seq=_whole(reported.get("seq"), "seq", SEQ_MAX),
            uid=UUID(name),
            at_ms=_whole(reported.get("at"), "at", MOMENT_MAX),
            path=_text(reported.get("path"), "path", PATH_MAX),
            person=_person(reported.get("person", "")),
            fields=_fields(reported.get("fields")),
        )
    except ValueError as error:
        return Entry(id=name, fault=str(error) if isinstance(error, Garbage) else "`id` is no UUID")


def _fields(reported: Any) -> tuple[tuple[str, str], ...]:
    if not isinstance(reported, list) or len(reported) > FIELDS_MAX:
        raise Garbage(f"`fields` is not a list of at most {FIELDS_MAX}")
    found = []
    for pair in reported:
        if not isinstance(pair, list) or len(pair) != 2:
            raise Garbage("a field is not a pair of name and value")
        found.append((_text(pair[0], "a field's name", NAME_MAX), _text(pair[1], "a field's value", VALUE_MAX)))
    if sum(len(name) + len(value) for name, value in found) > ENTRY_CHARS_MAX:
        raise Garbage(f"more than {ENTRY_CHARS_MAX} characters in one entry")
    return tuple(pair for pair in found if pair[0] not in OF_THE_PAGE)


def _person(reported: Any) -> str:
    """The name as it was tapped or typed."""
    return written(_text(reported, "person", PERSON_MAX))


def _text(reported: Any, what: str, most: int) -> str:
    if not isinstance(reported, str) or len(reported) > most or not _storable(reported):
        raise Garbage(f"{what} is not a text of at most {most} characters")
    return reported


def _storable(text: str) -> bool:
    """Half a character, or a NUL, is nothing that a database keeps."""
    return "\0" not in text and not any(0xD800 <= ord(letter) <= 0xDFFF for letter in text)


def _whole(reported: Any, what: str, most: int) -> int:
    """A whole number; phones may say 5.0 where they mean 5."""
    if isinstance(reported, float) and math.isfinite(reported) and reported == int(reported):
        reported = int(reported)
    if not isinstance(reported, int) or isinstance(reported, bool) or not 0 <= reported <= most:
        raise Garbage(f"`{what}` is not a whole number between 0 and {most}")
    return reported


def _no_number(name: str) -> NoReturn:
    raise ValueError(name)
