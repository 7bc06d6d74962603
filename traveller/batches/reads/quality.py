"""What the quality page reads: counts and measured values by operation, batch by batch, oldest first."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal, InvalidOperation
from fractions import Fraction

from django.db.models import Q

from traveller.batches.models import Batch, Reading, Step
from traveller.products.models import Check, OperationKind, Part
from traveller.rules.checks import KINDS, names_of
from traveller.rules.checks.kind import Limited
from traveller.rules.checks.limits import in_unit
from traveller.rules.yields import MILLION, first_pass_yield, rolled_yield

# A chart looks at what is; older batches stand in their records.
BATCHES_MOST = 60
# Below these a share says more about chance than about the process. Both are figures of ours that decide whether there
# is a chart at all: common practice, no source.
UNITS_ENOUGH = 20
BATCHES_ENOUGH = 3


@dataclass(frozen=True, slots=True)
class Run:
    """First entries of one batch at an operation, samples left out."""

    code: str
    entered: int
    good: int
    scrap: int
    rework: int


@dataclass(frozen=True, slots=True)
class Value:
    """One measured piece in its check's own unit."""

    code: str
    value: float
    at: datetime


@dataclass(frozen=True)
class Measured:
    """What a check of an operation measures; limits and target are those of its latest revision."""

    key: str
    name: str
    unit: str
    low: float | None
    high: float | None
    target: float | None
    values: tuple[Value, ...]

    def samples(self) -> list[tuple[str, tuple[float, ...]]]:
        """Values by batch, in the order of their first."""
        found: dict[str, list[float]] = defaultdict(list)
        for one in self.values:
            found[one.code].append(one.value)
        return [(code, tuple(values)) for code, values in found.items()]


@dataclass
class OperationQuality:
    """One operation of a part over all routing revisions that name it alike."""

    number: int
    verb: str
    runs: list[Run] = field(default_factory=list)
    measured: list[Measured] = field(default_factory=list)

    @property
    def entered(self) -> int:
        return sum(run.entered for run in self.runs)

    @property
    def good(self) -> int:
        return sum(run.good for run in self.runs)

    @property
    def scrap(self) -> int:
        return sum(run.scrap for run in self.runs)

    @property
    def is_enough(self) -> bool:
        """Whether shares say something."""
        return self.entered >= UNITS_ENOUGH and len(self.runs) >= BATCHES_ENOUGH

    @property
    def first_pass(self) -> Fraction | None:
        return first_pass_yield(self.entered, self.scrap, sum(run.rework for run in self.runs))


def parts_counted() -> list[Part]:
    """Parts of which anything was ever counted, for the filter."""
    counted = Step.objects.filter(_COUNTED).order_by().values("batch__part")
    return list(Part.objects.filter(pk__in=counted).defer("picture").order_by("name", "variant", "number"))


_COUNTED = Q(good__gt=0) | Q(scrap__gt=0) | Q(rework__gt=0)


def latest_part() -> int | None:
    """The part of the batch released last of which anything was counted."""
    return Step.objects.filter(_COUNTED).order_by("-batch_id").values_list("batch__part", flat=True).first()


def of_part(part_id: int, operation: int | None = None) -> list[OperationQuality]:
    """The operations of a part's last BATCHES_MOST batches; three queries for any number of batches."""
    newest = Batch.objects.filter(part=part_id, steps__in=Step.objects.filter(_COUNTED)).order_by("-id").distinct()
    batches = list(newest.values_list("id", flat=True)[:BATCHES_MOST])
    steps = Step.objects.filter(batch__in=batches).exclude(operation__kind=OperationKind.PREPARE)
    if operation is not None:
        steps = steps.filter(number=operation)
    rows = list(steps.select_related("batch", "operation").order_by("batch_id", "number"))
    found: dict[tuple[int, str], OperationQuality] = {}
    for step in rows:
        one = found.setdefault((step.number, step.operation.verb), OperationQuality(step.number, step.operation.verb))
        if entered := step.good + step.scrap + step.rework:
            one.runs.append(Run(step.batch.code, entered, step.good, step.scrap, step.rework))
    for key, measured in _measured({step.pk: step for step in rows}).items():
        found[key].measured += measured
    return [found[key] for key in sorted(found) if found[key].runs or found[key].measured]


def rolled(operations: Iterable[OperationQuality]) -> Fraction | None:
    """Share that passes every operation at once; None while one of them has too few pieces or batches."""
    shares = [(one, one.first_pass) for one in operations if one.runs]
    if not shares or any(share is None or not one.is_enough for one, share in shares):
        return None
    return rolled_yield(round(share * MILLION) for _, share in shares if share is not None)


_Key = tuple[int, str]


def _measured(steps: Mapping[int, Step]) -> dict[_Key, list[Measured]]:
    operations = {step.operation_id for step in steps.values()}
    plans: dict[tuple[_Key, str], Limited] = {}
    by_id = {step.operation_id: (step.number, step.operation.verb) for step in steps.values()}
    # Latest revision last: its name and limits stand.
    kinds = names_of(lambda kind: kind.charted)
    for row in Check.objects.filter(operation__in=operations, kind__in=kinds).order_by("id"):
        kind = KINDS[row.kind]
        params = kind.parse(row.parameters)
        if kind.charted and not isinstance(params, list):
            plans[by_id[row.operation_id], row.key] = kind.charted(params)
    values: dict[tuple[_Key, str], list[Value]] = defaultdict(list)
    names = {name for drawn in plans.values() for name in drawn.readings}
    reported = Reading.objects.filter(step__in=steps, struck_by=None, name__in=names).order_by("taken_at", "id")
    for step_id, check, name, text, unit, at in reported.values_list(
        "step_id", "check_key", "name", "value", "unit", "taken_at"
    ):
        step = steps[step_id]
        place = ((step.number, step.operation.verb), check)
        if place not in plans or name not in plans[place].readings:
            continue
        value = _in_own(text, unit, plans[place].limits.unit)
        if value is not None:
            values[place].append(Value(step.batch.code, value, at))
    found: dict[_Key, list[Measured]] = defaultdict(list)
    for (key, check), drawn in plans.items():
        if (key, check) in values:
            found[key].append(_series(check, drawn, values[key, check]))
    return found


def _series(check: str, drawn: Limited, values: Iterable[Value]) -> Measured:
    ends = (drawn.limits.least, drawn.limits.most, drawn.target)
    low, high, target = (None if end is None else float(end) for end in ends)
    return Measured(check, drawn.name, drawn.limits.unit, low, high, target, tuple(values))


def _in_own(text: str, unit: str, own: str) -> float | None:
    """A value in the check's own unit; None for words, and for another kind of unit."""
    try:
        number = Decimal(text.replace(",", "."))
    except InvalidOperation:
        return None
    if not number.is_finite() or abs(number.adjusted()) > 30:
        return None
    exact = in_unit(number, unit, own)
    return None if exact is None else float(exact)
