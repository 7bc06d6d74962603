"""What a kind of check must declare, so that pages, papers, workbook, charts and judging can ask it: nothing is left
to those who ask. Each fault names the kind and what it lacks."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from typing import Any, get_args

import pytest

from tests.rules.checks.tables import tables
from traveller.rules.checks import COLUMNS, KINDS, PARAMETERS_READ, names_of
from traveller.rules.checks.fields import Amount, Field, OneOf, Phrase, Unit, collected
from traveller.rules.checks.kind import STEP_BEFORE, CheckKind, EvidenceSource, Limited, Per
from traveller.rules.checks.limits import Limits, in_unit
from traveller.rules.checks.quantities import MEASURED_UNIT_MOST, TIME, Quantity, know, quantity_of
from traveller.rules.checks.readings import NAME_MOST
from traveller.rules.checks.window import KIND as WINDOW

# Kinds by count of what no figure limits: a word, and pieces of which none may stay untested.
WITHOUT_LIMITS = {"every_piece", "variant"}
# By which page or form each way of telling is asked.
TOLD_BY = {"load": {"times", "log"}, "count": {"counts", "materials"}, "tester": {"tries"}, "founder": {"decisions"}}


def full(name: str) -> Any:
    """The parameters of a kind's full row."""
    return KINDS[name].parse(tables()[name].full)


def lacking(name: str, kind: CheckKind[Any], params: Any) -> Iterator[str]:
    """What a kind leaves unsaid, each in one line with its place."""
    if not (kind.title and kind.about.endswith(".") and len(kind.about) < 140):
        yield "title, or about as one short sentence"
    for field in kind.fields:
        if not (field.meaning.endswith(".") and field.meaning[:1].isupper()):
            yield f"the meaning of {field.name} as a sentence"
        if field.reader.cell == "number" and not field.unit:
            yield f"the unit of {field.name}"
        if field.needed and not (field.reader.wanted or field.allowed):
            yield f"what {field.name} wants"
    if isinstance(kind.parse(kind.example), list):
        yield f"an example that can be read: {kind.parse(kind.example)}"
    if unknown := set(kind.example) - set(kind.columns):
        yield f"fields for {sorted(unknown)} of its example"
    if not kind.limits(params) and name not in WITHOUT_LIMITS:
        yield "limits"
    for limited in kind.limits(params):
        yield from (f"a reading {one} among its questions" for one in set(limited.readings) - _asked(kind, params))
    if _is_measured(kind, params) and kind.charted is None:
        yield "charted, although it limits a number that is measured"
    yield from _unsaid_of_questions(kind, params)


def _asked(kind: CheckKind[Any], params: Any) -> set[str]:
    return {question.name for question in kind.questions(params)}


def _is_measured(kind: CheckKind[Any], params: Any) -> bool:
    """All that it limits is one measured number: what a control chart is for."""
    limits, asked = kind.limits(params), kind.questions(params)
    numbers = all(question.kind == "number" and question.told == "measured" for question in asked)
    return len(limits) == 1 and bool(limits[0].readings) and numbers


def _unsaid_of_questions(kind: CheckKind[Any], params: Any) -> Iterator[str]:
    if not kind.limit_words(params):
        yield "limit_words"
    if not kind.boxes(params, ()):
        yield "boxes on paper"
    for question in kind.questions(params):
        if question.prompt_code not in kind.words:
            yield f"words for {question.prompt_code}"
        if len(question.name) > NAME_MOST or len(question.unit) > MEASURED_UNIT_MOST:
            yield f"a name and a unit of {question.name} that a reading has room for"
        wanted = TOLD_BY.get(question.told, {"readings"})
        if not wanted & set(kind.needs):
            yield f"needs: {question.name} is told with {question.told}"


@pytest.mark.parametrize("name", tables())
def test_a_kind_leaves_nothing_unsaid(name: str) -> None:
    found = list(lacking(name, KINDS[name], full(name)))
    assert not found, f"{name} (traveller/rules/checks/{name}.py) lacks: " + "; ".join(found)


def test_what_a_kind_leaves_unsaid_is_seen() -> None:
    """The test above fails for a kind without words, example, unit, limits, chart or needs."""
    params = full("dimension")
    whole = KINDS["dimension"]
    bare = Field("nominal", Amount(), "what", keeps="nominal")
    spoiled = {
        "title": replace(whole, title=""),
        "meaning of nominal": replace(whole, fields=(bare,)),
        "unit of nominal": replace(whole, fields=(bare,)),
        "example that can be read": replace(whole, example={"nominal": "x"}),
        "fields for ['colour']": replace(whole, example={**whole.example, "colour": "red"}),
        "limits": replace(whole, limits=lambda params: ()),
        "a reading depth": replace(whole, limits=lambda params: (Limited("depth", params.limits, ("depth",)),)),
        "charted": replace(whole, charted=None),
        "limit_words": replace(whole, limit_words=lambda params: []),
        "boxes": replace(whole, boxes=lambda params, cavities: ()),
        "words for ask.dimension": replace(whole, words={}),
        "needs: bore": replace(whole, needs={}),
    }
    for said, kind in spoiled.items():
        assert any(said in line for line in lacking("dimension", kind, params)), said


@pytest.mark.parametrize("name", tables())
def test_the_example_is_written_back_as_it_stands(name: str) -> None:
    kind = KINDS[name]
    written = kind.dump(kind.parse(kind.example))
    assert {column: written[column] for column in kind.example} == kind.example


def test_a_column_has_one_meaning() -> None:
    """Kinds that share a column read it in one way, so that a cell of the workbook holds one sort of thing."""
    readers: dict[str, dict[type, list[str]]] = defaultdict(lambda: defaultdict(list))
    for kind in KINDS.values():
        for field in kind.fields:
            readers[field.name][type(field.reader)].append(kind.name)
    assert {name: found for name, found in readers.items() if len(found) > 1} == {}
    assert set(readers) == set(COLUMNS) == set(PARAMETERS_READ)
    room = {name: {f.longest for k in KINDS.values() for f in k.fields if f.name == name} for name in COLUMNS}
    assert {name: longest for name, longest in room.items() if len(longest) > 1 and name != "unit"} == {}


def test_needs_are_known_and_what_hangs_on_parameters_is_asked_of_them() -> None:
    for name, table in tables().items():
        kind = KINDS[name]
        assert set(kind.needs) <= set(get_args(EvidenceSource)) and set(kind.needs.values()) <= set(get_args(Per)), name
        terms = [kind.terms(kind.parse(row)) for row in (*table.rows, table.full)]
        assert any(one.ends for one in terms) == ("ends" in kind.needs), name
        assert any(one.test for one in terms) == ("tries" in kind.needs), name
        assert any(one.every_cavity or one.lapse_days for one in terms) == ("decisions" in kind.needs), name
        log = any(q.kind == "log" for row in table.rows for q in kind.questions(kind.parse(row)))
        assert log == ("log" in kind.needs), name
        assert not log or kind.heat(full(name)), name
    assert KINDS["dwell"].terms(KINDS["dwell"].parse({"most": "1"})).ends == {STEP_BEFORE}
    assert KINDS["dwell"].terms(KINDS["dwell"].parse({"most": "1", "after": "30"})).ends == {30}


@pytest.mark.parametrize(
    ("name", "row", "seconds"),
    [
        ("window", {"least": "15"}, 900),
        ("window", {"least": "1.5", "unit": "h"}, 5400),
        ("window", {"most": "15"}, None),
        ("drying", {"least": "4"}, 14_400),
        ("drying", {"least": "4", "hopper": "yes"}, None),
        ("soak", {"least": "30", "temperature": "150 C"}, None),
        ("torque", {"nominal": "1", "tolerance": "0.1", "unit": "N m"}, None),
    ],
)
def test_a_timer_waits_for_what_a_clock_can_tell(name: str, row: dict[str, str], seconds: int | None) -> None:
    assert KINDS[name].timer(KINDS[name].parse(row)) == seconds


def test_limits_are_figures_in_a_unit_that_their_readings_turn_into() -> None:
    for name in tables():
        kind = KINDS[name]
        for limited in kind.limits(full(name)):
            units = {q.unit for q in kind.questions(full(name)) if q.name in limited.readings and q.unit}
            assert all(in_unit(Decimal(1), unit, limited.limits.unit) is not None for unit in units), (name, limited)


def test_what_is_charted_is_asked_by_the_registry() -> None:
    charted = names_of(lambda kind: kind.charted)
    assert {"dimension", "torque", "reading"} <= set(charted) and not set(charted) & WITHOUT_LIMITS
    for name in set(charted) & set(tables()):
        drawn = KINDS[name].charted
        assert drawn is not None
        found = drawn(full(name))
        assert found.readings and set(found.readings) <= _asked(KINDS[name], full(name))
        assert found.target is None or found.limits.side(found.target) == "inside"


@pytest.mark.parametrize("name", [name for name, table in tables().items() if table.wrong_unit])
def test_a_unit_that_a_field_cannot_take_is_refused_with_those_that_it_can(name: str) -> None:
    kind, table = KINDS[name], tables()[name]
    found = kind.parse({**table.full, "unit": table.wrong_unit})
    assert isinstance(found, list) and [fault.column for fault in found] == ["unit"]
    unit = next(field for field in kind.fields if field.name == "unit")
    assert found[0].wanted == " or ".join(unit.allowed)
    quantity = unit.reader.quantity
    assert found[0].why == (f"is no unit of {quantity.name}" if quantity else "")


def test_every_kind_whose_unit_is_a_closed_list_shows_one_that_it_refuses() -> None:
    closed = {k.name for k in KINDS.values() if any(f.name == "unit" and f.allowed for f in k.fields)}
    assert closed == {name for name, table in tables().items() if table.wrong_unit}


def test_a_unit_measures_one_thing() -> None:
    assert quantity_of("MIN") is TIME and quantity_of("furlong") is None
    with pytest.raises(ValueError, match="min measures time and nonsense"):
        know(Quantity("nonsense", {"min": Fraction(1)}))


def test_a_kind_that_builds_nothing_and_says_nothing_is_a_fault_of_the_program() -> None:
    with pytest.raises(ValueError, match="nothing was built"):
        replace(WINDOW, build=lambda row, found: None).parse({"least": "1"})


def test_the_readers_of_words_and_units() -> None:
    fields = (
        Field("unit", Unit(quantity=TIME, units=("min", "h")), "In which unit.", "min"),
        Field("level", OneOf(words=("I", "S-1")), "Which level."),
        Field("name", Phrase("what it is"), "What.", needed=True),
        Field("least", Amount(above_zero=True), "The least.", unit="as in unit"),
    )
    row, found = collected(fields, {"unit": "H", "level": "s-1", "name": " a  b ", "least": "2,5"})
    assert found == {"unit": "h", "level": "S-1", "name": "a b", "least": Decimal("2.5")} and not row.errors
    row, found = collected(fields, {"unit": "s", "level": "II", "least": "0"})
    assert [(e.column, e.wanted, e.why) for e in row.errors] == [
        ("unit", "min or h", "is no unit of time"),
        ("level", "I or S-1", ""),
        ("name", "what it is", ""),
        ("least", "a number ()", ""),
    ]
    assert Field("least", Amount(), "The least.", within="held").written(_Held()) == "1.5"
    assert Field("most", Amount(), "The most.", within="held").written(_Held()) == ""


class _Held:
    held = Limits(Decimal("1.50"), None, "h")
