"""Who may see what: the expectation for every address. A new address needs a line here."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

Reader = Literal["founder", "shop", "packer", "door"]


@dataclass(frozen=True, slots=True)
class Rule:
    """Whose page it is; which thing stands in each place of the address; `own`: a thing of site A alone."""

    reader: Reader
    places: tuple[str, ...] = ()
    own: bool = True
    # Where the address is a pattern that cannot be filled in place by place.
    path: str = ""
    # Sent to by a program: 401 in JSON to whoever has no pass.
    machine: bool = False

    def url(self, route: str, figures: dict[str, object]) -> str:
        if self.path:
            return f"/{self.path}"
        names = iter(self.places)
        return "/" + re.sub(r"<[^>]+>", lambda _: str(figures[next(names)]), route)


def founder(*places: str, path: str = "") -> Rule:
    return Rule("founder", places, path=path)


def shop(*places: str, own: bool = True) -> Rule:
    return Rule("shop", places, own and bool(places))


def machine() -> Rule:
    return Rule("shop", own=False, machine=True)


def packer(*places: str) -> Rule:
    return Rule("packer", places)


def door(*places: str) -> Rule:
    return Rule("door", places)


TABLE: dict[str, Rule] = {
    "sign-in": door(),
    "sign-in/<str:token>": door("token"),
    "sign-out": door(),
    "pass": door(),
    "pass/<str:token>": door("token"),
    "pass-off": door(),
    "person": door(),
    "language": door(),
    "t/<str:code>": door("batch"),
    "t/<str:code>/<int:step>": door("batch", "thirty"),
    "picture/<str:digest>": door("digest"),
    "keeper.js": door(),
    "manifest.webmanifest": door(),
    "": founder(),
    "find": founder(),
    "orders": founder(),
    "orders/<path:number>": founder("order"),
    "batches/<str:code>": founder("batch"),
    "batches/<str:code>/hold": founder("batch"),
    "missing/<int:part_id>": founder("part"),
    "batches/<str:code>/move/<str:what>": founder("batch", "move"),
    "batches/<str:code>/part": founder("batch"),
    "batches/<str:code>/traveller": founder("batch"),
    "batches/<str:code>/labels": founder("batch"),
    "batches/<str:code>/record": founder("batch"),
    "events/<int:event_id>/correct": founder("event"),
    "evidence/<int:attachment_id>": founder("proof"),
    "evidence/<int:attachment_id>/file": founder("proof"),
    "evidence/<int:attachment_id>/picture": founder("proof"),
    "first-offs": founder(),
    "first-offs/<int:step_id>": founder("step"),
    "holds": founder(),
    "holds/<int:hold_id>": founder("hold"),
    "lots/<str:code>": founder("lot"),
    "lots/<str:code>/hold": founder("lot"),
    "founder/behalf": founder(),
    "founder/plan": founder(),
    "stock": founder(),
    "quality": founder(),
    "kits": founder(),
    "consignments": founder(),
    "consignments/new": founder(),
    "consignments/arrivals": founder(),
    "consignments/arrivals/<int:parked_id>": founder("unknown_tote"),
    "consignments/rests/<int:account_id>": founder("rest"),
    "consignments/<str:code>": founder("outgoing"),
    "consignments/<str:code>/note": founder("outgoing"),
    "consignments/<str:code>/lines/<int:line_id>/settle": founder("outgoing", "outgoing_line"),
    "consignments/<str:code>/lines/<int:line_id>/count": founder("outgoing", "outgoing_line"),
    "sites": founder(),
    "sites/<slug:code>": founder("site"),
    "sites/<slug:code>/close": founder("site"),
    "sites/<slug:code>/write-off": founder("site"),
    "sites/<slug:code>/passes": founder("site"),
    "sites/<slug:code>/card": founder("site"),
    "sites/<slug:code>/passes/<int:pass_id>/revoke": founder("site", "pass"),
    "workbook": founder(),
    "workbook/import": founder(),
    "workbook/reference": founder(),
    "workbook/template.xlsx": founder(),
    r"^workbook/export\.(?P<kind>zip|xlsx)$": founder(path="workbook/export.zip"),
    "founder/clock": founder(),
    "phone-entries": founder(),
    "phone-entries/<int:for_review_id>": founder("aside"),
    "purchases": founder(),
    "purchases/new": founder(),
    "purchases/<str:code>": founder("purchase"),
    "here/keep": shop(),
    "here/unsent": shop(),
    "here/": shop(),
    "here/queue": machine(),
    "here/scan": shop(),
    "here/photo": shop(),
    "here/t/<str:code>": shop("batch"),
    "here/t/<str:code>/<int:step>": shop("batch", "thirty"),
    "here/step/<int:step_id>": shop("step"),
    "here/step/<int:step_id>/start": shop("step"),
    "here/step/<int:step_id>/done": shop("step"),
    "here/step/<int:step_id>/count": shop("step"),
    "here/step/<int:step_id>/measure": shop("step"),
    "here/step/<int:step_id>/leak": shop("step"),
    "here/step/<int:step_id>/load": shop("step"),
    "here/step/<int:step_id>/out": shop("step"),
    "here/load/<int:load_id>/out": shop("load"),
    "here/step/<int:step_id>/proof": shop("step"),
    "here/proof/<int:attachment_id>": shop("proof"),
    "here/proof/<int:attachment_id>/picture": shop("proof"),
    "here/told/<uuid:uid>": shop("uid"),
    "here/told/<uuid:uid>/correct": shop("uid"),
    "here/step/<int:step_id>/else": shop("step"),
    "here/step/<int:step_id>/apart": shop("step"),
    "here/step/<int:step_id>/found": shop("step"),
    "here/step/<int:step_id>/cavities": shop("step"),
    "here/step/<int:step_id>/own-number": shop("step"),
    "here/lost": shop(),
    "here/paper/<str:code>": shop("batch"),
    "here/told/<uuid:uid>/undo": shop("uid"),
    "here/problem/<str:code>": shop("batch"),
    "here/told/<uuid:uid>/no-problem": shop("uid"),
    "here/send": shop(),
    "here/return": shop(),
    "here/sent/<str:code>": shop("outgoing"),
    "here/sent/<str:code>/note": shop("outgoing"),
    "here/sent/<str:code>/back": shop("outgoing"),
    "here/arrival/<str:code>": shop("incoming"),
    "here/arrival/<str:code>/again/<int:line_id>": shop("incoming", "incoming_line"),
    "here/unannounced": shop(),
    "here/label/<str:code>": shop("batch"),
    "pack/": packer(),
    "pack/scan": packer(),
    "pack/photo": packer(),
    "pack/t/<str:code>": packer("lot"),
    "pack/t/<str:code>/<int:step>": packer("lot", "thirty"),
    "pack/line/<int:line_id>": packer("line"),
    "pack/carton/<str:code>": packer("carton"),
    "pack/carton/<str:code>/open": packer("carton"),
    "pack/carton/<str:code>/list": packer("carton"),
    "pack/ship/<int:order_id>": packer("order_id"),
    "pack/shipment/<str:code>": packer("shipment"),
}
