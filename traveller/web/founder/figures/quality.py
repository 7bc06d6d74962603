"""Quality: is each operation of a part steady, how much passes at once, do measured values fit their limits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_safe

from traveller.batches.reads import quality as reads
from traveller.batches.reads.quality import OperationQuality
from traveller.products.models import Part
from traveller.rules.charts import ALL_RULES, RULE_SETS
from traveller.web.founder.desk.frame import Desk, founder_page, show
from traveller.web.founder.figures.quality_charts import Shown, measured_of, percent, scrap_of
from traveller.web.tables import NumberColumn, PaperTable, TableColumn
from traveller.web.templatetags.look import whole


class FilterForm(forms.Form):
    """Which part, which of its operations, and by which run rules a point stands out."""

    part = forms.ChoiceField(label=gettext_lazy("Part"), required=False)
    operation = forms.ChoiceField(label=gettext_lazy("Operation"), required=False)
    rules = forms.ChoiceField(
        label=gettext_lazy("Run rules"),
        required=False,
        choices=[
            ("1984", gettext_lazy("nine in a row on one side, and seven more (Nelson, 1984)")),
            ("1956", gettext_lazy("eight in a row on one side, and three more (Western Electric, 1956)")),
        ],
    )

    def __init__(self, parts: Sequence[Part], operations: Sequence[OperationQuality], *args: Any, **kw: Any) -> None:
        super().__init__(*args, **kw)
        self.fields["part"].choices = [(part.number, part.title) for part in parts]  # type: ignore[attr-defined]
        numbers = dict.fromkeys((str(one.number), f"{one.number} {one.verb}") for one in operations)
        self.fields["operation"].choices = [("", _("all")), *numbers]  # type: ignore[attr-defined]


class YieldTable(PaperTable):
    """One row an operation."""

    name = TableColumn(
        verbose_name=gettext_lazy("Operation"), orderable=False, linkify=lambda record: f"#op-{record.one.number}"
    )
    batches = NumberColumn(verbose_name=gettext_lazy("Batches"), orderable=False)
    entered = NumberColumn(verbose_name=gettext_lazy("Pieces"), orderable=False)
    scrap = TableColumn(verbose_name=gettext_lazy("Scrap"), orderable=False)
    first_pass = TableColumn(verbose_name=gettext_lazy("Passed at once"), orderable=False)
    stands_out = NumberColumn(verbose_name=gettext_lazy("Stand out"), orderable=False)


@dataclass(frozen=True)
class Section:
    """An operation with its charts."""

    one: OperationQuality
    shown: tuple[Shown, ...]

    @property
    def name(self) -> str:
        return f"{self.one.number} {self.one.verb}"

    @property
    def batches(self) -> int:
        return len(self.one.runs)

    @property
    def entered(self) -> int:
        return self.one.entered

    @property
    def stands_out(self) -> int:
        return sum(shown.broken for shown in self.shown)

    @property
    def scrap(self) -> str:
        return self._share(self.one.scrap)

    @property
    def first_pass(self) -> str:
        return self._share(self.one.good)

    def _share(self, some: int) -> str:
        if not self.one.is_enough:
            return _("%(some)s of %(all)s") % {"some": whole(some), "all": whole(self.entered)}
        return percent(some / self.entered)


@founder_page
@require_safe
def quality(request: HttpRequest, desk: Desk) -> HttpResponse:
    """The charts of one part: the one asked for, else the one that was released last."""
    parts = reads.parts_counted()
    asked = next((part for part in parts if part.number == request.GET.get("part")), None)
    latest = reads.latest_part()
    part = asked or next((part for part in parts if part.pk == latest), None)
    found = reads.of_part(part.pk) if part else []
    wanted = request.GET.get("operation", "")
    chosen = [one for one in found if str(one.number) == wanted] or found
    year = request.GET.get("rules", "")
    rules = RULE_SETS.get(year, ALL_RULES)
    sections = [Section(one, _charts(one, rules)) for one in chosen]
    filled = {"part": part.number if part else "", "operation": wanted, "rules": year}
    form = FilterForm(parts, found, initial=filled)
    context = {
        "section": "quality",
        "title": _("Quality"),
        "sentence": sentence(part, sections),
        "form": form,
        "part": part,
        "sections": sections,
        "yields": YieldTable(sections),
        "rolled": _rolled(found),
        "most": reads.BATCHES_MOST,
    }
    return show(request, desk, "figures/quality.html", context)


def _charts(one: OperationQuality, rules: Sequence[int]) -> tuple[Shown, ...]:
    scrap = (scrap_of(one, rules),) if one.runs else ()
    return (*scrap, *(measured_of(measured, rules) for measured in one.measured))


def _rolled(found: Sequence[OperationQuality]) -> str:
    """Rolled yield over all operations of the part, in words."""
    share = reads.rolled(found)
    if share is None:
        return _("Too few pieces or batches yet for the share that passes every operation at once.")
    return _("%(share)s pass every operation at once (rolled yield).") % {"share": percent(share)}


def sentence(part: Part | None, sections: Sequence[Section]) -> str:
    """What stands out, in one sentence."""
    if part is None:
        return _("Nothing was counted yet.")
    out = [section for section in sections if section.stands_out]
    if not out:
        return _("%(part)s: nothing stands out.") % {"part": part.title}
    points = sum(section.stands_out for section in out)
    words = ngettext(
        "%(part)s: %(n)s point stands out, at %(where)s.", "%(part)s: %(n)s points stand out, at %(where)s.", points
    )
    where = ", ".join(section.one.verb for section in out)
    return words % {"part": part.title, "n": whole(points), "where": where}
