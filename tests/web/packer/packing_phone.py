"""A packer with a phone at a bench where lamps are ready: the packer's way over HTTP, told in short verbs."""

from __future__ import annotations

import html
import re
from dataclasses import dataclass, field
from typing import Any

from django.test import Client

from sites.models import PassKind
from tests import cast
from tests.shipping.packing import Bench, make_bench
from traveller.ledger.models import Lot
from traveller.shipping.models import Carton


@dataclass
class Phone:
    """`seen` is the page as it stands on the phone; a form posts what that page holds, as a browser would."""

    bench: Bench
    client: Client
    seen: str = ""
    status: int = 0
    url: str = ""
    trail: list[str] = field(default_factory=list)

    def get(self, url: str) -> str:
        return self._seen(self.client.get(url, follow=True), url)

    def post(self, url: str, reported: dict[str, Any]) -> str:
        return self._seen(self.client.post(url, reported, follow=True), url)

    def _seen(self, answer: Any, url: str) -> str:
        chain = getattr(answer, "redirect_chain", [])
        self.url = chain[-1][0] if chain else url
        self.status = answer.status_code
        self.seen = html.unescape(answer.content.decode()) if "html" in answer["Content-Type"] else ""
        self.trail.append(self.seen)
        return self.seen

    @property
    def text(self) -> str:
        """The page's words alone."""
        return " ".join(re.sub(r"<[^>]+>", "", self.seen).split())

    def hidden(self, name: str) -> list[str]:
        return re.findall(rf'name="{name}" value="([^"]*)"', self.seen)

    def kit(self) -> str:
        return self.get(f"/pack/line/{self.bench.line.pk}")

    def form(self, **reported: Any) -> dict[str, Any]:
        """The kit's form as it stands on the page, with some fields changed."""
        quantity = re.search(r'id="quantity"[^>]* value="([^"]*)"', self.seen)
        kept: dict[str, Any] = {
            "news_id": self.hidden("news_id")[:1],
            "lot": self.hidden("lot"),
            "quantity": quantity.group(1) if quantity else "",
        }
        return {**kept, **reported}

    def scan(self, lot: Lot | str, **reported: Any) -> str:
        """Scan a lot into the line's kit, from its page."""
        code = lot if isinstance(lot, str) else lot.code
        url = f"/pack/line/{self.bench.line.pk}"
        if f'action="{url}"' not in self.seen:
            self.kit()
        return self.post(url, self.form(code=code, do="look", **reported))

    def pack(self, **reported: Any) -> str:
        return self.post(f"/pack/line/{self.bench.line.pk}", self.form(do="pack", **reported))

    def carton(self) -> Carton:
        return Carton.objects.latest("pk")


def make_phone(bench: Bench | None = None, **reported: Any) -> Phone:
    bench = bench or make_bench(**reported)
    return Phone(bench, cast.pass_client(bench.lamps.bench, PassKind.PACKING, "Tomas"))
