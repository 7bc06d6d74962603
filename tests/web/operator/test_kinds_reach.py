"""Whatever a kind of check declares reaches the shop's page, its paper, the founder's chart and the process record.

Driven by the registry and each kind's own table: a kind that is added is held to it without a line here.
"""

from __future__ import annotations

import re
from typing import Any

import pytest

from tests import factory
from tests.cast import founder_client
from tests.paper.reading import texts
from tests.rules.checks.tables import Table, tables, typed
from tests.web.operator.floor import Floor, field_of, moved, text_of
from traveller.batches.models import Batch, Load, Reading, Step, Verdict
from traveller.batches.proof.gates import closed
from traveller.batches.reads import quality
from traveller.batches.reads.papers import Heading, Printed, limit_texts, print_traveller, traveller_of
from traveller.batches.reads.record_paper import process_record, record_of
from traveller.batches.reads.record_rows import Voice
from traveller.paper.process_record import StepRecord
from traveller.products import frozen
from traveller.products.frozen import CheckPlan, checks_of
from traveller.products.models import Check
from traveller.rules.checks import KINDS, names_of
from traveller.rules.checks.base import Question
from traveller.rules.other_units import other_unit, system_of
from traveller.web.words import limit_words, say

pytestmark = pytest.mark.django_db

STEP = 40
KEY = "under-test"
HEADING = Heading("Lantern Field Co.", "Mara", "https://bench.example", ("1042",))
VOICE = Voice(say, lambda found, zone: "")
# A value outside, one that the gauge cannot show, one of a neighbouring unit: the shop says yes, it is so.
SURE = {f"sure:{code}": "yes" for code in ("outside_limits", "other_unit_meant", "plausible.outside")}


def planned(floor: Floor, name: str) -> CheckPlan:
    """The kind's full row as the one check of the step, with the pieces there."""
    kind, table = KINDS[name], tables()[name]
    operation = floor.step(STEP).operation_id
    Check.objects.filter(operation=operation).delete()
    parameters = kind.dump(kind.parse(table.full))
    Check.objects.create(
        operation_id=operation, key=KEY, kind=name, scope=table.scope, blocks="sending", parameters=parameters
    )
    frozen.forget()
    floor.moulded(48)
    floor.load(24, 15)
    moved(floor.count(30, 24, load=Load.objects.latest("pk").uid))
    (plan,) = checks_of(operation)
    return plan


def measured_questions(plan: CheckPlan) -> list[Question]:
    return [question for question in plan.kind.questions(plan.params) if question.told == "measured"]


def page_of(floor: Floor, plan: CheckPlan) -> str:
    """Where the shop measures: the step's page, or that of its first load where loads are judged."""
    path = floor.path(STEP, "measure")
    if plan.scope != "load" and not any(one.each == "load" for one in measured_questions(plan)):
        return path
    if not Load.objects.filter(step=floor.step(STEP)).exists():
        moved(floor.post(floor.path(STEP, "load"), quantity=12))
    return f"{path}?load={Load.objects.get(step=floor.step(STEP)).uid}"


def fields_of(plan: CheckPlan) -> dict[str, str]:
    """By the name of each field, the question that it answers: one piece after the other, of the one cavity."""
    found: dict[str, str] = {}
    for question in measured_questions(plan):
        cavity = 1 if question.each == "cavity" else 0
        pieces = range(1, question.count + 1) if question.count > 1 else (0,)
        found |= {f"r:{KEY}:{question.name}:{cavity}:{piece}": question.name for piece in pieces}
    return found


def told(floor: Floor, plan: CheckPlan, answers: Any) -> Step:
    """All fields typed and sent, as the page would."""
    path = page_of(floor, plan)
    load = re.search(r"load=(.+)", path)
    more = {"load": load[1]} if load else {}
    answered = {field: typed(answers, question) for field, question in fields_of(plan).items()}
    moved(floor.post(path, {**answered, **more, **SURE}))
    return floor.step(STEP)


def record_step(floor: Floor) -> StepRecord:
    record = record_of(Batch.objects.get(pk=floor.batch.pk), HEADING, VOICE)
    return next(step for step in record.steps if step.number == STEP)


@pytest.fixture(params=tables())
def name(request: pytest.FixtureRequest) -> str:
    return str(request.param)


def where(name: str) -> str:
    return f"{name}: traveller/rules/checks/{name}.py, TABLE in tests/rules/checks/test_{name}.py"


def test_the_page_asks_what_is_measured_and_shows_its_limits(floor: Floor, name: str) -> None:
    plan = planned(floor, name)
    page = floor.phone.get(page_of(floor, plan))
    for field in fields_of(plan):
        assert field_of(page, field) is not None, f"the page has no field {field}; {where(name)}"
    if fields_of(plan):
        numbers = [one for one in measured_questions(plan) if one.kind == "number" and one.low and one.high]
        assert not numbers or numbers[0].unit in text_of(page), where(name)
    assert f"r:{KEY}" in page.content.decode() or not fields_of(plan)
    assert limit_words(plan) and "{" not in limit_words(plan), where(name)


def test_what_is_typed_is_kept_judged_and_stands_in_the_process_record(floor: Floor, name: str) -> None:
    plan, table = planned(floor, name), tables()[name]
    if not fields_of(plan):
        assert table.good is None, where(name)
        assert [block.check for block in closed(floor.batch, "send") if block.step == STEP] == [KEY]
        return
    step = told(floor, plan, table.good)
    rows = Reading.objects.filter(step=step, check_key=KEY)
    assert rows.count() == len(fields_of(plan)), where(name)
    verdict = Verdict.objects.get(step=step, check_key=KEY, load=None, latest=True)
    assert verdict.outcome != "failed", (say(verdict.code, verdict.figures), where(name))
    assert verdict.code in plan.kind.words, f"no words for {verdict.code}; {where(name)}"
    record = record_step(floor)
    assert len(record.readings) == len(fields_of(plan)) and {one.limit for one in record.readings} == {
        ", ".join(limit_texts(plan))
    }
    for one in rows:
        assert any(row.name.startswith(one.name) and one.value in row.value for row in record.readings), where(name)
    check = next(row for row in record.checks if row.figures == say(verdict.code, verdict.figures))
    assert check.limit == ", ".join(limit_texts(plan))
    printed = " ".join(texts(process_record(floor.batch, heading=HEADING, voice=VOICE)))
    assert squeezed(check.figures) in squeezed(printed), where(name)


def squeezed(text: str) -> str:
    """Without blanks: paper breaks lines where it likes."""
    return re.sub(r"\s+", "", text)


@pytest.mark.parametrize("name", [name for name, table in tables().items() if table.bad is not None])
def test_what_is_outside_fails_and_the_verdict_says_so_in_words(floor: Floor, name: str) -> None:
    plan = planned(floor, name)
    step = told(floor, plan, tables()[name].bad)
    verdict = Verdict.objects.get(step=step, check_key=KEY, load=None, latest=True)
    assert verdict.outcome == "failed", (say(verdict.code, verdict.figures), where(name))
    assert verdict.code in plan.kind.words, f"no words for {verdict.code}; {where(name)}"
    assert "{" not in say(verdict.code, verdict.figures)
    assert [row.verdict for row in record_step(floor).checks] == ["FAILED"]


def test_a_kind_whose_readings_can_fail_shows_one_that_does() -> None:
    for name, table in tables().items():
        plain = [one for one in KINDS[name].limits(KINDS[name].parse(table.full)) if one.readings]
        numbers = "readings" in KINDS[name].needs and KINDS[name].charted
        assert not (plain and numbers) or table.bad is not None, where(name)


def test_paper_has_its_boxes_and_limits(floor: Floor, name: str) -> None:
    plan = planned(floor, name)
    row = next(
        step for step in traveller_of(floor.batch, 1, HEADING, on=factory.MONDAY.date()).steps if step.number == STEP
    )
    expected = [(box.label, box.unit) for box in plan.kind.boxes(plan.params, [])]
    assert [(box.label, box.unit) for box in row.boxes] == expected, where(name)
    assert set(limit_texts(plan)) <= set(row.limits), where(name)
    printed = print_traveller(event_context=factory.event_context("print"), batch_id=floor.batch.pk, heading=HEADING)
    assert isinstance(printed, Printed)
    text = squeezed(" ".join(texts(printed.pdf)))
    for box in plan.kind.boxes(plan.params, []):
        assert squeezed(box.label) in text, (box, where(name))


@pytest.mark.parametrize("name", [name for name in names_of(lambda kind: kind.charted) if name in tables()])
def test_the_founders_quality_page_charts_what_is_charted(floor: Floor, name: str) -> None:
    plan, table = planned(floor, name), tables()[name]
    assert plan.kind.charted is not None
    told(floor, plan, table.good)
    drawn = plan.kind.charted(plan.params)
    (found,) = [one for part in quality.of_part(floor.part.pk) for one in part.measured]
    assert (found.key, found.name, found.unit) == (KEY, drawn.name, drawn.limits.unit)
    assert len(found.values) == len(fields_of(plan)), where(name)
    ends = (drawn.limits.least, drawn.limits.most, drawn.target)
    assert (found.low, found.high, found.target) == tuple(None if end is None else float(end) for end in ends)
    page = text_of(founder_client().get("/quality"))
    assert f"{drawn.name} ({drawn.limits.unit})" in page, where(name)


def test_the_tables_answer_what_their_kinds_ask() -> None:
    for name, table in tables().items():
        kind = KINDS[name]
        asked = [one.name for one in kind.questions(kind.parse(table.full)) if one.told == "measured"]
        assert all(typed(table.good, question) for question in asked), where(name)
    with pytest.raises(AssertionError, match="says nothing of what is typed for bore"):
        typed(Table((), "lot", {}).good, "bore")


def test_a_reader_of_inch_and_pound_is_offered_the_other_unit_of_each_number(floor: Floor, name: str) -> None:
    """Whatever a field is measured in: the counterpart of its unit is declared with it, and turned into exactly."""
    plan = planned(floor, name)
    floor.phone.cookies["units"] = "inch_pound"
    page = floor.phone.get(page_of(floor, plan)).content.decode()
    by_name = {one.name: one for one in measured_questions(plan)}
    for field, question in fields_of(plan).items():
        own = by_name[question].unit
        offered = by_name[question].kind == "number" and system_of(own) == "metric" and other_unit(own) is not None
        assert (f'name="u:{field}"' in page) == offered, (field, where(name))


def test_torque_typed_in_pound_force_inches_is_judged_in_newton_metres(floor: Floor) -> None:
    """0.54 N m are 4.7794 lbf in, the least that the lid's screws may have."""
    plan = planned(floor, "torque")
    floor.phone.cookies["units"] = "inch_pound"
    path = page_of(floor, plan)
    assert "0.54 to 0.66 N m (4.780 to 5.841 lbf in)" in text_of(floor.phone.get(path))
    typed_in = {f"u:{field}": "lbf in" for field in fields_of(plan)}
    low = next(iter(fields_of(plan)))
    moved(floor.post(path, {**dict.fromkeys(fields_of(plan), "5.3"), low: "4.7", **typed_in, **SURE}))
    verdict = Verdict.objects.get(step=floor.step(STEP), check_key=KEY, latest=True)
    assert say(verdict.code, verdict.figures) == (
        "lid M3 1 of piece 1: 4.7 lbf in is too low; 0.54 to 0.66 N m allowed. Outside: 1 of 8."
    )
