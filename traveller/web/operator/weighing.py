"""How goods were counted: by hand, on a scale from the weight of a few, or by shots. Nobody has to reckon anything.

A scale shows steps, and what it cannot tell follows from them (rules.counts). They are asked once: a site's last ones
are filled in, and where they are left open the digits of the weights say what they are, which is asked about.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from typing import Any, cast

from django.http import HttpRequest
from django.utils.translation import gettext as _

from traveller.dispatches.weighed import count_how, steps_at
from traveller.rules.checks.columns import plain
from traveller.rules.counts import ASSUMED_CV_PPM, CountHow, by_weight, cannot_tell, enough_sample, spread
from traveller.rules.numbers import TypedAmount, read_amount
from traveller.rules.units import BaseUnit, show_quantity
from traveller.web.door import Asked
from traveller.web.operator.shop import site_of
from traveller.web.parts.figures import TwoMeanings, own_mark, read_count, read_goods, read_mass
from traveller.web.words import say

_METHODS = ("hand", "weight", "shots")
SCALE_UNITS = ("kg", "g", "lb", "oz")
POUNDS = ("US", "LR", "MM")
# Below this the weight of one is a guess (traveller.rules.counts).
FEW = 10
TOTES_MAX = 60


@dataclass(frozen=True, slots=True)
class How:
    """The method and what was typed about it. `weight_of_sample` in grams, None where the scale itself shows pieces;
    `sample_step` and `step` (of the totes' scale) as "1 g", empty where they were left open."""

    method: str = "hand"
    sample: int = 0
    weight_of_sample: Fraction | None = None
    tare: Fraction = Fraction(0)
    unit: str = "kg"
    sample_step: str = ""
    step: str = ""
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
    cv_ppm: int = ASSUMED_CV_PPM

    @property
    def weighed(self) -> CountHow:
        """What is known of how well it was weighed; `cv_ppm`: the spread of a piece of this part."""
        return count_how(self.quantity, self.method, self.sample, self.scale)

    @property
    def scale(self) -> dict[str, Any]:
        """The same as a line of a dispatch keeps it."""
        return {**self.how.get("scale", {}), "cv_ppm": self.cv_ppm}

    def question(self) -> Asked | None:
        """What was reckoned is shown before it becomes news."""
        if "gross" in self.how:
            return Asked("by_weight", {"counted": self.quantity, "spread": spread(self.weighed)})
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
    steps = _steps(reported, wrong, {"sample_step": reported.get("sample_unit") or of_sample, "step": unit})
    readings = {"sample": str(sample), "sample_weight": _as_typed(reported, "sample_weight", "sample_unit", of_sample)}
    if reported.get("tare", "").strip():
        readings["tare"] = _as_typed(reported, "tare", "weight_unit", of_tote)
    of_sample, of_goods = steps
    return How("weight", sample, weight, tare or Fraction(0), unit, of_sample, of_goods, readings=readings), wrong


def _steps(reported: Any, wrong: dict[str, str], units: dict[str, str]) -> list[str]:
    """The steps of the sample's scale and of the totes', as "1 g"; where only one was typed it is the same scale."""
    found = []
    for name, unit in units.items():
        text = reported.get(name, "")
        step = read_mass(text, unit)
        if isinstance(step, str):
            wrong[name] = step
        elif step == 0:
            wrong[name] = _("A scale has a step: type the smallest change that it shows, like 1 or 0.5.")
        found.append(_kept(text, unit) if isinstance(step, Fraction) and step else "")
    return [found[0] or found[1], found[1] or found[0]]


def _kept(text: str, unit: str, *, step: bool = False) -> str:
    """A weight that can be read, as it is kept: "0.5 kg"; with `step` one in its last digit."""
    found = read_amount(text, unit, own_mark())
    if not isinstance(found, TypedAmount):
        return ""
    number = Decimal(1).scaleb(min(0, int(found.number.as_tuple().exponent))) if step else found.number
    return f"{plain(number)} {found.unit.lower()}"


def _as_typed(reported: Any, name: str, unit_name: str, usual: str) -> str:
    text = reported.get(name, "").strip()[:30]
    return text if re.search(r"[A-Za-z]", text) else f"{text} {reported.get(unit_name) or usual}"


def read_counted(how: How, text: str, unit: str, cv_ppm: int = ASSUMED_CV_PPM) -> CountedHere | str:
    """What was typed for one line or tote: pieces, a gross weight, or shots; or the words that say what is wrong."""
    if unit != "C62" or not how.reckons:
        goods = read_goods(text, unit)
        if isinstance(goods, str):
            return goods
        kept = {"typed": goods.kept} if goods.kept else {}
        return CountedHere(goods.quantity, how.method, how.sample, kept, cv_ppm)
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
    known = {"gross": typed, **how.readings, "scale": _scale(how, text, 1)}
    return CountedHere(pieces, "weight", how.sample, known, cv_ppm)


def _scale(how: How, text: str, totes: int) -> dict[str, Any]:
    """What is known of the scales (dispatches.weighed). The weight of the empty tote is taken off every tote, with the
    same error each time; a step that was left open is one in the last digit typed."""
    sample = how.readings["sample_weight"]
    finest = max(text.split("+"), key=lambda one: len(re.sub(r"^[^.,]*|\D", "", one)))
    return {
        "weight": _kept(sample, "g"),
        "sample_step": how.sample_step or _kept(sample, "g", step=True),
        "step": how.step or _kept(finest, how.unit, step=True),
        "readings": totes + (totes**2 if how.tare else 0),
    }


def read_totes(how: How, text: str, unit: str, cv_ppm: int = ASSUMED_CV_PPM) -> CountedHere | str:
    """The same for a line of several totes, with + between them: counted together, each remembered."""
    read = [read_counted(how, one, unit, cv_ppm) for one in text.split("+")]
    wrong = [one for one in read if isinstance(one, str)]
    totes = [one for one in read if isinstance(one, CountedHere)]
    if wrong:
        return wrong[0].within(text) if isinstance(wrong[0], TwoMeanings) else wrong[0]
    if len(totes) < 2:
        return totes[0]
    if len(totes) > TOTES_MAX:
        return say("tote_quantities", {"most": TOTES_MAX})
    return _merged(how, text, totes, unit)


def _merged(how: How, text: str, totes: list[CountedHere], unit: str) -> CountedHere:
    """Totes of one line as one count: their figures side by side, and how often the scale was read for them."""
    merged = {**totes[0].how, "totes": [one.quantity for one in totes], **_readings(totes, unit)}
    if weighed := sum("scale" in one.how for one in totes):
        merged["scale"] = _scale(how, text, weighed)
    return CountedHere(sum(one.quantity for one in totes), how.method, totes[0].sample, merged, totes[0].cv_ppm)


def _readings(totes: list[CountedHere], unit: str) -> dict[str, str]:
    """The readings of several totes with + between them; of one that was not converted, what it is."""
    found = {}
    for name in ("gross", "shots", "typed"):
        if any(name in one.how for one in totes):
            none = [show_quantity(one.quantity, cast(BaseUnit, unit)) if name == "typed" else "0" for one in totes]
            found[name] = " + ".join(one.how.get(name, zero) for one, zero in zip(totes, none, strict=True))
    return found


def questions(how: How, counted: Iterable[CountedHere]) -> list[Asked]:
    """What was reckoned, together; whether too few were weighed for it, and whether the scale can tell it at all."""
    rows = list(counted)
    found = []
    if how.method == "weight" and 0 < how.sample < FEW and any(row.quantity for row in rows):
        found.append(Asked("few_weighed", {"sample": how.sample}))
    found += _of_scale(how, [row for row in rows if "scale" in row.how])
    reckoned = [row for row in rows if row.question()]
    if len(reckoned) == 1:
        found.append(reckoned[0].question())  # type: ignore[arg-type]
    elif reckoned:
        found.append(_together(reckoned))
    return found


def _of_scale(how: How, weighed: list[CountedHere]) -> list[Asked]:
    """The step, where it was left open, and the first count that the scale cannot tell."""
    found = []
    if weighed and not how.step:
        scale = weighed[0].how["scale"]
        found.append(Asked("scale_step", {"of_sample": scale["sample_step"], "of_totes": scale["step"]}))
    return found + [_coarse(row) for row in weighed if cannot_tell(row.weighed)][:1]


def _coarse(row: CountedHere) -> Asked:
    """It may be off by more than a count should be: how many pieces to weigh together, if that would help."""
    figures: dict[str, object] = {"counted": row.quantity, "spread": spread(row.weighed), "sample": row.sample}
    wanted = enough_sample(row.weighed)
    if wanted is None:
        return Asked("scale_too_coarse", figures)
    return Asked("scale_cannot_tell", {**figures, "wanted": wanted})


def _together(rows: list[CountedHere]) -> Asked:
    total = sum(row.quantity for row in rows)
    if rows[0].method == "weight":
        # The weight of one is the same guess for all of them: their spreads add up.
        give = sum(spread(row.weighed) for row in rows)
        return Asked("by_weight", {"counted": total, "spread": give})
    shots = sum(int(one) for row in rows for one in row.how["shots"].split(" + "))
    return Asked("by_shots", {"counted": total, "shots": shots, "cavities": rows[0].how["cavities"]})


def how_context(request: HttpRequest) -> dict[str, Any]:
    """What parts/goods_how.html asks for."""
    of_tote, of_sample = scale_units(request)
    said = {} if request.method == "POST" else steps_at(site_of(request).pk)
    return {
        "methods": _METHODS,
        "sample_step": request.POST.get("sample_step", said.get("sample_step", "")),
        "step": request.POST.get("step", said.get("step", "")),
        "scale_units": SCALE_UNITS,
        "weight_unit": request.POST.get("weight_unit") or of_tote,
        "sample_unit": request.POST.get("sample_unit") or of_sample,
    }
