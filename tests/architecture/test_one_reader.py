"""Numbers that people type are read by rules/numbers.py alone: no door makes a number of a text itself."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

from tests.architecture.tree import ROOT, modules, parsed

DOORS = ("traveller/web/founder", "traveller/web/operator", "traveller/web/packer", "traveller/web/parts",
         "traveller/exchange/workbook")  # fmt: skip
MAKERS = {"int", "float", "Decimal"}
FIELDS = {"IntegerField", "DecimalField", "FloatField"}
# By reason: what becomes a number in a door although the reader of numbers did not read it.
ALLOWED: dict[str, set[str]] = {
    "keys and step numbers that our own page wrote into an address, a button or a choice": {
        "founder/orders/plan.py int(text)",
        "founder/parts/purchases.py int(quantity)",
        "founder/today/missing_parts.py int(shown)",
        "operator/arrival_questions.py int(text)",
        "founder/subcontractors/behalf.py int(text)",
        "founder/today/clock.py forms.IntegerField(min_value=1, widget=forms.HiddenInput)",
        "founder/work/batch_actions.py int(site)",
        "founder/work/batch_actions.py int(step)",
        "founder/work/batch_moves.py int(lot)",
        "founder/work/batch_moves.py int(pk)",
        "founder/work/batch_moves.py int(reported['open_step'])",
        "founder/work/batch_moves.py int(reported['site'])",
        "founder/work/batch_moves.py int(reported['step'])",
        "founder/work/holds.py int(number)",
        "founder/work/move_forms.py int(site)",
        "founder/work/move_forms.py int(step)",
        "operator/again.py int(number)",
        "operator/else_reported.py int(number)",
        "operator/keep.py int(found[1])",
        "packer/cartons.py int(pk)",
        "packer/kit.py int(dropped)",
        "packer/progress.py int(pk)",
        "packer/progress.py int(text)",
    },
    "what the reader of numbers, or the books, said before": {
        "founder/figures/quality_charts.py float(share)",
        "founder/orders/plan_words.py Decimal(int(figures['yield_ppm']))",
        "founder/orders/plan_words.py int(figures['cavities'])",
        "founder/orders/plan_words.py int(figures['yield_ppm'])",
        "founder/work/batch_facts.py float(share)",
        "operator/measure.py Decimal(one)",
        "operator/measure.py Decimal(reading.value)",
        "operator/arrival_questions.py int(str(figures['counted']))",
        "operator/weighing.py int(found.number.as_tuple().exponent)",
        "operator/weighing.py int(one)",
        "packer/kit.py int(read_count(progress.quantity))",
        "workbook/canonical.py Decimal(per_thousand // 1000)",
        "workbook/canonical.py Decimal(per_thousand)",
        "workbook/cells.py int(number)",
        "workbook/columns.py int(str(value))",
        "workbook/sources.py Decimal(reported['quantity'])",
        "workbook/sources.py int(step)",
        "workbook/stored.py Decimal(ppm)",
        "workbook/stored.py int(value * 10000)",
        "workbook/writing.py Decimal(repr(float(value)))",
        "workbook/writing.py float(value)",
    },
    "times, sizes and places of the machine": {
        "operator/envelope.py int(reported)",
        "operator/loads.py int(elapsed(started_at, ended_at).total_seconds())",
        "operator/pace.py float(_AT_ONCE)",
        "operator/queue.py int(moment.timestamp() * 1000)",
        "operator/queue.py int(request.META.get('CONTENT_LENGTH') or 0)",
        "workbook/dates.py int(match[1])",
        "workbook/dates.py int(match[3])",
        "workbook/dates.py int(part)",
    },
    "a spreadsheet's own number, or what a check wrote from one": {
        "workbook/columns.py Decimal(text)",
        "workbook/numbers.py Decimal(plain_number(cell))",
        "workbook/numbers.py Decimal(repr(round(value, _DECIMALS_MAX)))",
        "workbook/numbers.py int(value)",
    },
}


def made_numbers(path: Path) -> Iterator[str]:
    """Where a module makes a number of something, or a field that does: "folder/module.py call"."""
    short = "/".join(path.relative_to(ROOT).parts[2:])
    return (f"{short} {call}" for call in calls_in(parsed(path)))


def calls_in(tree: ast.Module) -> Iterator[str]:
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        name = node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")
        constant = bool(node.args) and isinstance(node.args[0], ast.Constant)
        if name in FIELDS or (name in MAKERS and node.args and not constant):
            yield ast.unparse(node)


def test_no_door_reads_numbers_of_its_own() -> None:
    found = {call for path in modules(*DOORS) for call in made_numbers(path)}
    allowed = {call for calls in ALLOWED.values() for call in calls}
    assert not found - allowed, "read it by rules/numbers.py: " + "; ".join(sorted(found - allowed))
    assert not allowed - found, "no longer there, so no longer allowed: " + "; ".join(sorted(allowed - found))


def test_a_number_made_at_a_door_is_found() -> None:
    made = "quantity = int(request.POST['quantity'])\nfield = forms.IntegerField()\nsure = int('5')"
    assert list(calls_in(ast.parse(made))) == ["int(request.POST['quantity'])", "forms.IntegerField()"]
