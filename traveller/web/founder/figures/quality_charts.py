"""Charts of the quality page: from counts and values to drawings with their tables, or to counts while few."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from traveller.batches.reads.quality import BATCHES_ENOUGH, UNITS_ENOUGH, Measured, OperationQuality
from traveller.rules.capability import ENOUGH, capability
from traveller.rules.charts import ALL_RULES, Chart, individuals, mean_and_range, p_chart
from traveller.web.founder.desk.frame import link_to
from traveller.web.pictures.control_chart import ControlChart, Words, control_chart
from traveller.web.tables import CodeColumn, PaperTable, TableColumn
from traveller.web.templatetags.look import whole

WIDE, NARROW = 1120, 340
# Larger samples are better told by their standard deviation; those of a bench are small.
SAMPLE_MOST = 10
VALUES_MOST = 120
ROWS_OPEN = 12
NAMED_MOST = 3

RULE_WORDS: Mapping[int, str | Promise] = {
    1: gettext_lazy("beyond the limits"),
    2: gettext_lazy("nine in a row on one side of the centre"),
    3: gettext_lazy("six in a row rising or falling"),
    4: gettext_lazy("fourteen in a row up and down in turn"),
    5: gettext_lazy("two of three beyond two sigma on one side"),
    6: gettext_lazy("four of five beyond one sigma on one side"),
    7: gettext_lazy("fifteen in a row within one sigma"),
    8: gettext_lazy("eight in a row beyond one sigma on either side"),
    9: gettext_lazy("eight in a row on one side of the centre"),
}


@dataclass(frozen=True, slots=True)
class ChartRow:
    """A point of a chart as its table tells it; `spread` is the range that belongs to it."""

    point: int
    code: str
    value: str
    spread: str
    limits: str
    stands_out: str


class PointTable(PaperTable):
    """One row a point, in the order of the drawing."""

    point = TableColumn(verbose_name=gettext_lazy("Point"), orderable=False)
    code = CodeColumn(
        verbose_name=gettext_lazy("Batch"), orderable=False, linkify=lambda record: link_to("batch", record.code)
    )
    value = TableColumn(verbose_name=gettext_lazy("Value"), orderable=False)
    spread = TableColumn(verbose_name=gettext_lazy("Range"), orderable=False)
    limits = TableColumn(verbose_name=gettext_lazy("Limits"), orderable=False)
    stands_out = TableColumn(verbose_name=gettext_lazy("What stands out"), orderable=False)


class ScrapTable(PointTable):
    """As above for shares, which have no range."""

    class Meta:
        exclude = ("spread",)


class CountTable(PointTable):
    """As above while there are too few for limits: there is nothing yet that could stand out."""

    class Meta:
        exclude = ("spread", "limits", "stands_out")


@dataclass(frozen=True, slots=True)
class Drawn:
    """A drawing, wide and narrow, and what stands below it where the section does not say it already."""

    wide: str
    narrow: str
    caption: str = ""


@dataclass(frozen=True)
class Shown:
    """A section of the page: charts with their table, or why there are none yet."""

    title: str
    words: str
    drawn: tuple[Drawn, ...]
    table: PaperTable
    broken: int

    @property
    def is_long(self) -> bool:
        """A table that would push the next chart off the screen is folded up below its drawing."""
        return bool(self.drawn) and len(self.table.rows) > ROWS_OPEN


def percent(share: Fraction | float) -> str:
    return f"{float(share) * 100:.1f} %"


def scrap_of(one: OperationQuality, rules: Sequence[int] = ALL_RULES) -> Shown:
    """The p chart of scrap by batch; only counts while there are few."""
    title = _("Scrap by batch")
    if not one.is_enough or not one.scrap:
        counts = [ChartRow(n, run.code, _of(run.scrap, run.entered), "", "", "") for n, run in enumerate(one.runs, 1)]
        return Shown(title, _too_few() if one.scrap or not one.is_enough else _no_scrap(one), (), CountTable(counts), 0)
    chart = p_chart([run.scrap for run in one.runs], [run.entered for run in one.runs], rules)
    broken = _broken(chart)
    rows = [
        ChartRow(
            n,
            run.code,
            _share(run.scrap, run.entered),
            "",
            _("%(low)s to %(high)s") % {"low": percent(chart.lower[n - 1]), "high": percent(chart.upper[n - 1])},
            _stands_out(broken.get(n, ())),
        )
        for n, run in enumerate(one.runs, 1)
    ]
    figures = {"scrap": _of(one.scrap, one.entered), "share": percent(chart.centre)}
    words = _("%(scrap)s scrapped, %(share)s.") % figures + _said(broken)
    return Shown(title, words, (_draw(chart, words, percent),), ScrapTable(rows), len(broken))


def _of(some: int, all_: int) -> str:
    return _("%(some)s of %(all)s") % {"some": whole(some), "all": whole(all_)}


def _share(some: int, all_: int) -> str:
    """The counts, and a percentage where there are enough pieces for one."""
    return f"{_of(some, all_)}, {percent(some / all_)}" if all_ >= UNITS_ENOUGH else _of(some, all_)


def _too_few() -> str:
    return _("Only counts: a chart needs %(n)d batches and %(units)d pieces.") % {
        "n": BATCHES_ENOUGH,
        "units": UNITS_ENOUGH,
    }


def _no_scrap(one: OperationQuality) -> str:
    """Limits come from the scrap itself: of none there is nothing to draw."""
    return _("None of %(all)s pieces was scrapped.") % {"all": whole(one.entered)}


def measured_of(one: Measured, rules: Sequence[int] = ALL_RULES) -> Shown:
    """Means and ranges where every batch has as many pieces, else single values and moving ranges."""
    title = f"{one.name} ({one.unit})" if one.unit else one.name
    samples = one.samples()
    sizes = {len(values) for _code, values in samples}
    by_mean = len(samples) >= BATCHES_ENOUGH and len(sizes) == 1 and 2 <= min(sizes) <= SAMPLE_MOST
    values = one.values[-VALUES_MOST:]
    if not by_mean and (len(values) < UNITS_ENOUGH or len(samples) < BATCHES_ENOUGH):
        few = [ChartRow(n, value.code, _number(value.value), "", "", "") for n, value in enumerate(values, 1)]
        return Shown(title, _too_few(), (), CountTable(few), 0)
    if by_mean:
        first, second = mean_and_range([values for _code, values in samples], rules)
        codes = [code for code, _values in samples]
        kind = _("Mean of %(n)d values a batch, and their range.") % {"n": min(sizes)}
    else:
        first, second = individuals([value.value for value in values], rules)
        codes = [value.code for value in values]
        kind = _("Single values, and the moving range between neighbours.")
    return _pair(one, title, kind, codes, first, second, by_mean=by_mean)


def _pair(
    one: Measured, title: str, kind: str, codes: Sequence[str], first: Chart, second: Chart, *, by_mean: bool
) -> Shown:
    broken, spread = _broken(first), _broken(second)
    # A moving range belongs to the later of its two values.
    lag = len(first.values) - len(second.values)
    rows = []
    for n, code in enumerate(codes, 1):
        own = spread.get(n - lag, ())
        said = [_stands_out(broken.get(n, ())), _("range: %(words)s") % {"words": _stands_out(own)} if own else ""]
        limits = {"low": _number(first.lower[n - 1]), "high": _number(first.upper[n - 1])}
        rows.append(
            ChartRow(
                n,
                code,
                _number(first.values[n - 1]),
                _number(second.values[n - 1 - lag]) if n > lag else "",
                _("%(low)s to %(high)s") % limits,
                "; ".join(part for part in said if part),
            )
        )
    nominal = "" if one.target is None else " " + _("Nominal %(n)s.") % {"n": _number(one.target)}
    words = kind + nominal + _said(broken) + " " + _capable(one, is_steady=not (broken or spread))
    # The drawing's limits hold for pieces: a mean has no business near them.
    ends = (None, None) if by_mean else (one.low, one.high)
    read_out = f"{title}: {kind}{_said(broken)}"
    ranges = _("%(title)s, range.") % {"title": title} + _said(spread)
    drawn = (_draw(first, read_out, _number, *ends), replace(_draw(second, ranges, _number), caption=ranges))
    return Shown(title, words, drawn, PointTable(rows), len(broken) + len(spread))


def _capable(one: Measured, *, is_steady: bool) -> str:
    values = [value.value for value in one.values]
    if one.low is None and one.high is None:
        return ""
    found = capability(values, one.low, one.high)
    if found is None:
        if len(values) >= ENOUGH:
            return _("All values are equal: capability cannot be computed.")
        return _("Capability from %(n)d values on; there are %(have)d.") % {"n": ENOUGH, "have": len(values)}
    low, high = found.cpk_interval
    words = _("Cpk %(cpk).2f (95 %%: %(low).2f to %(high).2f) from %(n)d values.") % {
        "cpk": found.cpk, "low": low, "high": high, "n": found.n,
    }  # fmt: skip
    if found.cp is not None and found.cp_interval is not None:
        low, high = found.cp_interval
        words += " " + _("Cp %(cp).2f (%(low).2f to %(high).2f).") % {"cp": found.cp, "low": low, "high": high}
    if not is_steady:
        words += " " + _("The process is not steady, so that capability promises nothing.")
    return words


def _number(value: float) -> str:
    return f"{value:.5g}"


def _broken(chart: Chart) -> dict[int, tuple[int, ...]]:
    found: dict[int, list[int]] = defaultdict(list)
    for point, rule in chart.marks:
        found[point].append(rule)
    return {point: tuple(rules) for point, rules in found.items()}


def _stands_out(rules: Sequence[int]) -> str:
    return "; ".join(f"{rule}: {RULE_WORDS[rule]}" for rule in rules)


def _said(broken: Mapping[int, Sequence[int]]) -> str:
    if not broken:
        return " " + _("Nothing stands out.")
    named = [
        _("point %(point)d, %(rule)s") % {"point": point, "rule": RULE_WORDS[rules[0]]}
        for point, rules in sorted(broken.items())[:NAMED_MOST]
    ]
    rest = "" if len(broken) <= NAMED_MOST else " …"
    figures = {"n": len(broken), "which": "; ".join(named) + rest}
    return (
        " "
        + ngettext("%(n)d point stands out: %(which)s.", "%(n)d points stand out: %(which)s.", len(broken)) % figures
    )


def _draw(
    chart: Chart,
    sentence: str,
    number: Callable[[float], str],
    least: float | None = None,
    most: float | None = None,
) -> Drawn:
    words = Words(_("centre"), _("upper limit"), _("lower limit"), _("most allowed"), _("least allowed"), number)
    shown = ControlChart(
        chart.values, chart.centre, chart.lower, chart.upper, tuple(sorted(_broken(chart).items())), sentence, least,
        most, words,
    )  # fmt: skip
    return Drawn(control_chart(shown, WIDE), control_chart(shown, NARROW))
