from __future__ import annotations

from sites.models.people import DoorTry, PassKind, Person, SitePass
from sites.models.site import Closure, Lane, Site, SiteKind

__all__ = ["Closure", "DoorTry", "Lane", "PassKind", "Person", "Site", "SiteKind", "SitePass"]
