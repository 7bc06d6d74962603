"""Sites, lanes, closures and people: added or updated."""

from __future__ import annotations

from typing import Any, Final

from sites.models import Closure, Lane, Person, Site
from traveller.exchange.workbook.compare import Changes
from traveller.exchange.workbook.sheets import SHEETS
from traveller.exchange.workbook.stored import Ids
from traveller.exchange.workbook.tables import key_names, stored_values
from traveller.products.models import Part

__all__ = ["apply_sites", "ids_now"]

# In this order: the others name sites.
_MODELS: Final[tuple[tuple[str, Any], ...]] = (
    ("sites", Site),
    ("lanes", Lane),
    ("closures", Closure),
    ("people", Person),
)


def ids_now() -> Ids:
    """Each site's id by its code, each part's by its number."""
    return Ids(dict(Site.objects.values_list("code", "pk")), dict(Part.objects.values_list("number", "pk")))


def apply_sites(changes: Changes) -> None:
    """Rows that stand already are not written again."""
    for name, model in _MODELS:
        ids = ids_now()
        for row in changes.of(name, "added", "changed"):
            found = stored_values(SHEETS[name], row, ids)
            known = {each: found.pop(each) for each in key_names(SHEETS[name])}
            model.objects.update_or_create(**known, defaults=found)
