"""Every address of the program, from its own table, with what has been seen to stand in it."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from urllib.parse import quote, unquote, urlsplit

from django.urls import URLResolver, get_resolver, resolve
from django.urls.exceptions import Resolver404

from traveller.management.trials.values.draw import Draw

__all__ = ["Places", "routes"]

_PLACE = re.compile(r"<(?:(\w+):)?(\w+)>")
_GROUP = re.compile(r"\(\?P<(\w+)>([^)]*)\)")
SEEN_MAX = 40


def routes(resolver: URLResolver | None = None, before: str = "") -> list[str]:
    """Every address of the URL table as it is written there."""
    found: list[str] = []
    for entry in (resolver or get_resolver()).url_patterns:
        here = before + str(entry.pattern)
        found += routes(entry, here) if isinstance(entry, URLResolver) else [here]
    return found


@dataclass(slots=True)
class Places:
    """`seen` keeps, by the name of a place in an address, what pages have put there."""

    seen: dict[str, list[str]] = field(default_factory=dict)

    def note(self, address: str) -> str | None:
        """The route of an address that a page names; what stands in it is remembered."""
        try:
            found = resolve(unquote(urlsplit(address).path))
        except (Resolver404, ValueError):
            return None
        for name, value in found.kwargs.items():
            known = self.seen.setdefault(name, [])
            if str(value) not in known:
                known.append(str(value))
                del known[:-SEEN_MAX]
        return str(found.route)

    def words(self) -> list[str]:
        """Codes, to be typed where a page asks for one."""
        return self.seen.get("code", [])

    def address(self, route: str, draw: Draw, odd: float) -> str:
        """A path of this route: what is known to stand there, or with the share `odd` anything."""

        def placed(name: str) -> str:
            known = self.seen.get(name, [])
            right = draw.random.choice(known) if known else draw.whole(1, 300)
            return quote((draw.value(right) if draw.chance(odd) else right).encode("utf-8", "surrogatepass"), safe="/")

        plain = _GROUP.sub(lambda found: draw.one(*found[2].split("|")), route).strip("^$").replace("\\", "")
        return "/" + _PLACE.sub(lambda found: placed(found[2]), plain)
