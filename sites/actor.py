"""Who tells a piece of news or asks for an action."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

PHONE_LETTERS = 16
ActorKind = Literal["founder", "operator", "packer", "system"]


@dataclass(frozen=True, slots=True)
class Actor:
    """`site_id` is the pass's site, None for the founder; `on_behalf` marks what a shop told by phone.

    `phone`: the id of the device that holds the pass, as it says itself; empty for everybody else.
    """

    kind: ActorKind
    person: str
    site_id: int | None = None
    pass_id: int | None = None
    on_behalf: bool = False
    phone: str = ""

    @property
    def is_founder(self) -> bool:
        return self.kind == "founder"
