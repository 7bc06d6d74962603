"""Whether goods may be used is judged in one place: who else reads open holds or verdicts does not decide by them.

Each reader stands here with what it reads them for. A new one is a failing test that names it: ask
`traveller.batches.usable`, or say here what else it is for.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

from tests.architecture.tree import ROOT, modules, name_of, parsed

# What tells whether a lot is held, proved or too old.
_CALLS = {"open_on", "open_among", "holds_on", "refuse_if_held", "closed_among", "unproved_inside", "held_among"}
_FIELDS = ("holds__", "expires_on__")

JUDGES = {
    "traveller.batches.usable": "the judge",
    "traveller.batches.proof.stops": "its sources",
    "traveller.batches.proof.gates": "a source: own checks",
    "traveller.batches.proof.components": "a source: components' checks",
    "traveller.batches.proof.suspects": "signs by which lots are picked to be judged",
    "traveller.ledger.holds": "the table of what a hold allows, on which the judge is built; writes holds",
}
# These rooms cannot import the judge: they ask the table of the ledger.
BELOW = {
    "traveller.dispatches.actions.dispatch": "refuses held lots by holds.ALLOWED",
}
WRITES = {
    "traveller.batches.actions.decide": "decides on holds and concedes verdicts",
    "traveller.batches.actions.take_back_problem": "takes the hold of a problem back",
    "traveller.batches.actions.undo": "takes holds and verdicts back",
    "traveller.batches.proof.judge": "writes verdicts and holds",
    "traveller.batches.splitting.part_load": "a load's verdicts go with its pieces",
    "traveller.orders.actions.adopt_batch": "a batch taken over is proved up to its step",
    "traveller.dispatches.actions.unknown": "ends the hold on what was not known",
}
RECOMPUTES = {
    "traveller.batches.history.built_on": "what an event caused",
    "traveller.batches.history.replaying": "verify tells the journal again",
    "traveller.batches.history.verify": "verify tells the journal again",
    "traveller.ledger.verify": "verify: holds are inherited whole",
    "traveller.batches.steps.answer": "what this very event opened",
}
SAYS_WHY = {
    "traveller.batches.reads.papers": "the reasons of holds, beside the status",
    "traveller.batches.reads.queries": "the holds of a batch, to be listed",
    "traveller.batches.reads.record_paper": "the process record lists holds",
    "traveller.batches.reads.record_rows": "the process record lists verdicts",
    "traveller.batches.reads.todo": "a mark on the list of tasks: work at held goods goes on",
    "traveller.ledger.queries": "filters and counts of the stock page",
    "traveller.web.founder.orders.order_line": "holds as knots of the line over time",
    "traveller.web.founder.orders.order_reads": "which batches a long order tells first",
    "traveller.web.founder.parts.family": "a mark beside each relative of a lot",
    "traveller.web.founder.today.decisions": "holds and checks that wait for the founder",
    "traveller.web.founder.work.batch_facts": "verdicts and holds as the page lists them",
    "traveller.web.founder.work.batch_table": "a filter of the table of batches",
    "traveller.web.founder.work.first_piece": "first pieces that wait for a decision",
    "traveller.web.founder.work.hold_list": "the list of holds",
    "traveller.web.founder.work.holds": "the page of a hold",
    "traveller.web.founder.work.usual": "what is held waits for the founder, and is no overstay",
    "traveller.web.log_picture": "what the checks say of a log",
    "traveller.web.operator.proof": "what the checks say of a proof that was sent",
    "traveller.web.operator.scan": "why a scanned batch is held, before its page opens",
    "traveller.web.operator.step": "what the checks say of the step, and why it is held",
    "traveller.web.operator.today": "a mark on the list of tasks: work at held goods goes on",
}
TRIES = {
    "traveller.management.demo.story": "the story decides on its own hold",
    "traveller.management.trials.worker.hand": "the trial looks whether its verdict came",
}
KNOWN = {**JUDGES, **BELOW, **WRITES, **RECOMPUTES, **SAYS_WHY, **TRIES}


def reads(tree: ast.AST) -> Iterator[str]:
    """What in a module reads open holds, verdicts or expiry to find goods by them."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute) and node.attr == "objects" and isinstance(node.value, ast.Name):
            if node.value.id in ("Hold", "Verdict"):
                yield f"{node.value.id}.objects"
        elif isinstance(node, ast.Call):
            called = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
            if called in _CALLS:
                yield called
        elif isinstance(node, ast.keyword) and (node.arg or "").lstrip("lot_").startswith(_FIELDS):
            yield node.arg or ""
        elif isinstance(node, ast.Compare) and _is_older(node):
            yield "expires_on"


def _is_older(node: ast.Compare) -> bool:
    """A day of expiry weighed against another."""
    weighed = any(isinstance(op, ast.Lt | ast.LtE | ast.Gt | ast.GtE) for op in node.ops)
    return weighed and isinstance(node.left, ast.Attribute) and node.left.attr == "expires_on"


def _readers() -> dict[str, set[str]]:
    found = {name_of(path): set(reads(parsed(path))) for path in modules("traveller", "sites")}
    return {name: what for name, what in found.items() if what}


def test_nobody_else_judges_by_holds_verdicts_or_expiry() -> None:
    readers = _readers()
    new = {name: sorted(what) for name, what in readers.items() if name not in KNOWN}
    assert new == {}, f"ask traveller.batches.usable, or say in {Path(__file__).relative_to(ROOT)} what it is for"


def test_who_is_named_here_still_reads_them() -> None:
    assert set(KNOWN) - set(_readers()) == set()


def test_a_reader_of_its_own_is_found() -> None:
    for line in (
        "Hold.objects.filter(lot__in=lots, closed_at=None)",
        "holds.open_on([1])",
        "rows.filter(lot__expires_on__lt=on)",
        "free = lot.expires_on >= on",
        "Verdict.objects.filter(latest=True)",
    ):
        assert list(reads(ast.parse(line))), line
    assert not list(reads(ast.parse("expires_on = lot.expires_on\nlot.expires_on is None")))
