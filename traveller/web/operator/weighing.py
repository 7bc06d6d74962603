"""How goods were counted: by hand, on a scale from the weight of a few, or by shots. Nobody has to reckon anything."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any, cast

from django.http import HttpRequest
from django.utils.translation import gettext as _

from traveller.rules.counts import CountHow, by_weight, spread
from traveller.rules.units import BaseUnit, show_quantity
from traveller.web.door import Asked
from traveller.web.operator.shop import site_of
from traveller.web.parts.figures import TwoMeanings, read_count, read_goods, read_mass
from traveller.web.words import say

_METHODS = ("hand", "weight", "shots")
SCALE_UNITS = ("kg", "g", "lb", "oz")
POUNDS = ("US", "LR", "MM")
# Below this the weight of one is a guess (traveller.rules.counts).
FEW = 10
TOTES_MAX = 60


@dataclass(frozen=True, slots=True)
class How:
    """The method and what was typed about it. `weight_of_sample` in grams, None where the scale itself shows pieces."""

    method: str = "hand"
    sample: int = 0
    weight_of_sample: Fraction | None = None
    tare: Fraction = Fraction(0)
    unit: str = "kg"
    cavities: int = 0
    readings: dict[str, str] = field(default_factory=dict)

    @property
    def reckons(self) -> bool:
        """Is what was typed for a tote something else than its pieces?"""
        return self.weight_of_sample is not None or (self.method == "shots" and self.cavities > 0)


@dataclass(frozen=True, slots=True)
class CountedHere:
    """A quantity in the part's base unit, and the readings that it came from."""

    quantity: int
    method: str
    sample: int
    how: dict[str, Any] = field(default_factory=dict)

    def question(self) -> Asked | None:
        """What was reckoned is shown before it becomes news."""
        if "gross" in self.how:
            give = spread(CountHow(self.quantity, "weight", self.sample))
            return Asked("by_weight", {"counted": self.quantity, "spread": give})
        if "shots" in self.how:
            shots = sum(int(one) for one in self.how["shots"].split(" + "))
            figures = {"counted": self.quantity, "shots": shots, "cavities": self.how["cavities"]}
            return Asked("by_shots", figures)
        return None


def scale_units(request: HttpRequest) -> tuple[str, str]:
    """What a tote and a sample are weighed in here, unless it is said otherwise."""
    return ("lb", "oz") if site_of(request).country in POUNDS else ("kg", "g")


def how_counted(request: HttpRequest) -> tuple[How, dict[str, str]]:
    """The method as it was told, and what is wrong with it, by field."""
    reported = request.POST
    method = reported.get("method", "hand")
    if method not in _METHODS:
        return How(), {"method": _("Choose how it was counted.")}
    if method == "weight":
        return _weighed(request)
    if method == "shots" and reported.get("cavities", "").strip():
        cavities = read_count(reported["cavities"])
        if isinstance(cavities, str):
            return How(method), {"cavities": cavities}
        return How(method, cavities=cavities), {}
    return How(method), {}


def _weighed(request: HttpRequest) -> tuple[How, dict[str, str]]:
    reported, wrong = request.POST, {}
    of_tote, of_sample = scale_units(request)
    unit = reported.get("weight_unit") or of_tote
    sample = read_count(reported.get("sample") or "0")
    if isinstance(sample, str):
        wrong["sample"], sample = sample, 0
    weight = read_mass(reported.get("sample_weight", ""), reported.get("sample_unit") or of_sample)
    tare = read_mass(reported.get("tare", ""), unit)
    if isinstance(weight, str):
        wrong["sample_weight"], weight = weight, None
    if isinstance(tare, str):
        wrong["tare"], tare = tare, None
    if weight is not None and not sample and "sample" not in wrong:
        wrong["sample"] = _("Type how many pieces were weighed together for the weight of one.")
    readings = {"sample": str(sample), "sample_weight": _as_typed(reported, "sample_weight", "sample_unit", of_sample)}
    if reported.get("tare", "").strip():
        readings["tare"] = _as_typed(reported, "tare", "weight_unit", of_tote)
    return How("weight", sample, weight, tare or Fraction(0), unit, readings=readings), wrong


def _as_typed(reported: Any, name: str, unit_name: str, usual: str) -> str:
    text = reported.get(name, "").strip()[:30]
    return text if re.search(r"[A-Za-z]", text) else f"{text} {reported.get(unit_name) or usual}"


def read_counted(how: How, text: str, unit: str) -> CountedHere | str:
    """What was typed for one line or tote: pieces, a gross weight, or shots; or the words that say what is wrong."""
    if unit != "C62" or not how.reckons:
        goods = read_goods(text, unit)
        if isinstance(goods, str):
            return goods
        return CountedHere(goods.quantity, how.method, how.sample, {"typed": goods.kept} if goods.kept else {})
    if how.method == "shots":
        shots = read_count(text)
        if isinstance(shots, str):
            return shots
        return CountedHere(shots * how.cavities, "shots", 0, {"shots": str(shots), "cavities": str(how.cavities)})
    gross = read_mass(text, how.unit)
    if gross is None:
        return _("Type its weight; 0 if there is nothing.")
    if isinstance(gross, str):
        return gross
    if not gross:
        return CountedHere(0, "weight", how.sample)
    pieces = by_weight(gross, how.tare, how.sample, how.weight_of_sample or Fraction(0))
    if pieces is None:
        return _("With a tare of that much there is nothing left of “%(text)s”. Check both weights.") % {
            "text": text[:30]
        }
    typed = text.strip() if re.search(r"[A-Za-z]", text) else f"{text.strip()} {how.unit}"
    return CountedHere(pieces, "weight", how.sample, {"gross": typed, **how.readings})


def read_totes(how: How, text: str, unit: str) -> CountedHere | str:
    """The same for a line of several totes, with + between them: counted together, each remembered."""
    read = [read_counted(how, one, unit) for one in text.split("+")]
    wrong = [one for one in read if isinstance(one, str)]
    totes = [one for one in read if isinstance(one, CountedHere)]
    if wrong:
        return wrong[0].within(text) if isinstance(wrong[0], TwoMeanings) else wrong[0]
    if len(totes) < 2:
        return totes[0]
    if len(totes) > TOTES_MAX:
        return say("tote_quantities", {"most": TOTES_MAX})
    merged = {**totes[0].how, "totes": [one.quantity for one in totes], **_readings(totes, unit)}
    return CountedHere(sum(one.quantity for one in totes), how.method, totes[0].sample, merged)


def _readings(totes: list[CountedHere], unit: str) -> dict[str, str]:
    """The readings of several totes with + between them; of one that was not converted, what it is."""
    found = {}
    for name in ("gross", "shots", "typed"):
        if any(name in one.how for one in totes):
            none = [show_quantity(one.quantity, cast(BaseUnit, unit)) if name == "typed" else "0" for one in totes]
            found[name] = " + ".join(one.how.get(name, zero) for one, zero in zip(totes, none, strict=True))
    return found


def questions(how: How, counted: Iterable[CountedHere]) -> list[Asked]:
    """What was reckoned, together, and whether too few were weighed for it."""
    rows = list(counted)
    found = []
    if how.method == "weight" and 0 < how.sample < FEW and any(row.quantity for row in rows):
        found.append(Asked("few_weighed", {"sample": how.sample}))
    reckoned = [row for row in rows if row.question()]
    if len(reckoned) == 1:
        found.append(reckoned[0].question())  # type: ignore[arg-type]
    elif reckoned:
        found.append(_together(reckoned))
    return found


def _together(rows: list[CountedHere]) -> Asked:
    total = sum(row.quantity for row in rows)
    if rows[0].method == "weight":
        # The weight of one is the same guess for all of them: their spreads add up.
        give = sum(spread(CountHow(row.quantity, "weight", row.sample)) for row in rows)
        return Asked("by_weight", {"counted": total, "spread": give})
    shots = sum(int(one) for row in rows for one in row.how["shots"].split(" + "))
    return Asked("by_shots", {"counted": total, "shots": shots, "cavities": rows[0].how["cavities"]})


def how_context(request: HttpRequest) -> dict[str, Any]:
    """What parts/goods_how.html asks for."""
    of_tote, of_sample = scale_units(request)
    return {
        "methods": _METHODS,
        "scale_units": SCALE_UNITS,
        "weight_unit": request.POST.get("weight_unit") or of_tote,
        "sample_unit": request.POST.get("sample_unit") or of_sample,
    }
