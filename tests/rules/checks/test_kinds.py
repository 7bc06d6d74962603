"""What holds for every kind of check: round trip, words for every code, questions that name their prompt."""

from __future__ import annotations

import json
import re
import string
from datetime import timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.rules.checks.evidence import NOON, a_log
from tests.rules.checks.tables import missing_of, tables
from traveller.rules import checks
from traveller.rules.checks import COLUMNS, KINDS, WORDS
from traveller.rules.checks.base import (
    ApprovalEvidence,
    CheckVerdict,
    CountEvidence,
    Evidence,
    LoadEvidence,
    MadeWith,
    MaterialEvidence,
    ReadingEvidence,
)

CASES = [(name, dict(row)) for name, table in tables().items() for row in table.rows]
SPECIMENS = [(name, KINDS[name].parse(row)) for name, row in CASES]
# What may be read: what any of them asks, what counts tell, and units of each field that takes some.
NAMES = sorted({q.name for name, params in SPECIMENS for q in KINDS[name].questions(params)} | {"tested"})
TAKEN = {word for kind in KINDS.values() for field in kind.fields for word in field.allowed}
UNITS = sorted(TAKEN | {"", "C", "F", "%"})


@pytest.mark.parametrize("name", KINDS)
def test_every_kind_has_its_table_in_its_own_test_file(name: str) -> None:
    assert not missing_of(name), missing_of(name)


def test_a_kind_without_its_table_is_named_with_the_file_it_belongs_to() -> None:
    assert missing_of("no_such") == "the kind no_such has no test file: write tests/rules/checks/test_no_such.py"
    assert missing_of("kinds") == "the kind kinds has no TABLE in tests/rules/checks/test_kinds.py"


@pytest.mark.parametrize(("name", "row"), CASES)
def test_parameters_written_out_read_back_equal(name: str, row: dict[str, str]) -> None:
    kind = KINDS[name]
    params = kind.parse(row)
    assert not isinstance(params, list)
    dumped = kind.dump(params)
    assert set(dumped) == set(kind.columns) and all(isinstance(value, str) for value in dumped.values())
    assert kind.parse(dumped) == params


@given(
    st.sampled_from(sorted(KINDS)),
    st.dictionaries(st.sampled_from(COLUMNS), st.text(max_size=12) | st.sampled_from(["1", "2,5", "mm", "C", "yes"])),
)
def test_any_row_is_read_or_its_faults_are_named(name: str, row: dict[str, str]) -> None:
    kind = KINDS[name]
    found = kind.parse(row)
    if isinstance(found, list):
        assert found and all(error.column in kind.columns and error.wanted for error in found)
    else:
        assert kind.parse(kind.dump(found)) == found


@pytest.mark.parametrize(("name", "params"), SPECIMENS)
def test_limits_and_questions_have_words(name: str, params: Any) -> None:
    kind = KINDS[name]
    for code, figures in kind.limit_words(params):
        assert kind.words[code].format(**figures)
    for question in kind.questions(params):
        assert question.prompt_code in kind.words and question.count >= 1
    assert all(box.label and box.width > 0 for box in kind.boxes(params, (1, 2)))


moments = st.none() | st.integers(-600, 40_000).map(lambda seconds: NOON + timedelta(seconds=seconds))
logs = st.none() | st.lists(st.tuples(st.integers(0, 300), st.floats(-20, 300)), min_size=2, max_size=6).map(a_log)
loads = st.lists(st.tuples(st.integers(0, 50), moments, moments, st.just(""), logs), max_size=3).map(
    lambda rows: tuple(LoadEvidence(number, *row) for number, row in enumerate(rows, start=1))
)
readings = st.lists(
    st.builds(
        ReadingEvidence,
        name=st.sampled_from(NAMES),
        value=st.decimals(-50, 300, places=3) | st.sampled_from([Decimal("NaN"), Decimal("1E+999999"), Decimal(0)]),
        unit=st.sampled_from([*UNITS, "Shore A", "bar"]),
        taken_at=st.integers(0, 30_000).map(lambda seconds: NOON + timedelta(seconds=seconds)),
        load=st.none() | st.integers(1, 3),
        cavity=st.none() | st.integers(1, 2),
        piece=st.none() | st.integers(1, 3),
        text=st.sampled_from(["", "amber", "red", "n/a"]),
    ),
    max_size=8,
).map(tuple)
counts = st.builds(
    CountEvidence,
    **dict.fromkeys(("arrived", "good", "scrap", "rework", "samples", "scrap_before", "retested"), st.integers(0, 60)),
)
materials = st.lists(
    st.builds(
        MaterialEvidence,
        lot=st.just("L1"),
        kind=st.sampled_from(["ink", "resin"]),
        expires_on=st.none() | st.dates(NOON.date() - timedelta(days=3), NOON.date() + timedelta(days=3)),
        mixed_at=moments,
        used_at=st.integers(0, 40_000).map(lambda seconds: NOON + timedelta(seconds=seconds)),
        temperature_c=st.none() | st.decimals(15, 40, places=1),
    ),
    max_size=3,
).map(tuple)
made_with = st.builds(MadeWith, design=st.sampled_from(["", "B", "C"]), cavities=st.sampled_from([(), (1,), (1, 2)]))
approvals = st.lists(
    st.builds(
        ApprovalEvidence,
        decided_at=st.integers(-20_000_000, 0).map(lambda seconds: NOON + timedelta(seconds=seconds)),
        approved=st.booleans(),
        made_with=made_with,
    ),
    max_size=2,
).map(tuple)
evidences = st.builds(
    Evidence,
    materials=materials,
    made_with=made_with,
    approvals=approvals,
    loads=loads,
    readings=readings,
    counts=counts,
    said_done=st.booleans(),
    open_cavities=st.sampled_from([(), (1,), (1, 2)]),
    previous_ended_at=moments,
    previous_first_ended_at=moments,
    started_at=moments,
)


def _verdicts(name: str, params: Any, evidence: Evidence) -> list[CheckVerdict]:
    found: list[CheckVerdict] = []
    for scope in (None, *KINDS[name].scopes):
        judged = KINDS[name].judge(params, evidence, scope)
        found += [judged.step, *judged.by_load.values()]
        if any(verdict.outcome == "failed" for verdict in judged.by_load.values()):
            assert judged.step.outcome == "failed"
        if judged.step.outcome == "passed":
            assert {verdict.outcome for verdict in judged.by_load.values()} <= {"passed"}
    return found


@given(st.sampled_from(SPECIMENS), evidences)
def test_every_verdict_has_words_and_figures_that_can_be_kept(specimen: tuple[str, Any], evidence: Evidence) -> None:
    name, params = specimen
    for verdict in _verdicts(name, params, evidence):
        sentence = KINDS[name].words[verdict.code].format(**verdict.figures)
        assert sentence.endswith(".")
        assert json.loads(json.dumps(verdict.figures)) == verdict.figures


@pytest.mark.parametrize(("name", "params"), SPECIMENS)
def test_nothing_known_is_never_a_pass(name: str, params: Any) -> None:
    for done in (False, True):
        assert {verdict.outcome for verdict in _verdicts(name, params, Evidence(said_done=done))} == {"missing"}


def test_one_code_has_one_sentence() -> None:
    for kind in KINDS.values():
        for code, words in kind.words.items():
            assert WORDS[code] == words


def test_every_code_in_the_source_has_a_sentence_and_every_sentence_a_use() -> None:
    folder = Path(checks.__file__).parent
    source = "\n".join(path.read_text("utf-8") for path in sorted(folder.glob("*.py")))
    for code in WORDS:
        family, _, ending = code.partition(".")
        ending = ending.removeprefix("step_")
        # A code is either written out, or its ending is put behind a prefix.
        uses = len(re.findall(rf'"{re.escape(code)}"', source)) + len(re.findall(rf'\}}\.?{ending}"', source))
        assert uses >= 2 or family == "ask", code


def test_sentences_name_their_figures_plainly() -> None:
    for code, words in WORDS.items():
        fields = [name for _, name, spec, conversion in string.Formatter().parse(words) if name is not None]
        assert all(re.fullmatch(r"[a-z_]+", name) for name in fields), code
