"""The sender takes goods back while the receiver counts them: one of the two is first, and the other is told so."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.db import connection

from tests.globe import everything_agrees, make_globe, ok
from traveller.batches.actions.receive import receive
from traveller.batches.actions.take_back_dispatch import take_back_dispatch
from traveller.journal.refusal import Refusal
from traveller.ledger.models import Condition

ROUNDS = 6


def _at_once(*done: Callable[[], object]) -> list[object]:
    """Both begin at one moment, each with a connection of its own."""
    gate = Barrier(len(done))

    def run(one: Callable[[], object]) -> object:
        try:
            gate.wait(timeout=30)
            return one()
        finally:
            connection.close()

    with ThreadPoolExecutor(len(done)) as pool:
        return [running.result() for running in [pool.submit(run, one) for one in done]]


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_taken_back_and_counted_at_one_moment_only_one_is_booked() -> None:
    globe = make_globe(start=60)
    globe.report(20, 60)
    globe.report(30, 60)
    for _ in range(ROUNDS):
        shelf, there = globe.at(globe.moulder, Condition.STOCK, 30), globe.at(globe.bench, Condition.IN_PROCESS, 40)
        consignment = ok(globe.send(10))
        line = consignment.lines.get()
        contexts = (globe.event_context(), globe.event_context())
        back, count = _at_once(
            lambda c=consignment, e=contexts[0]: take_back_dispatch(event_context=e, consignment_id=c.pk),  # type: ignore[misc]
            lambda x=line, e=contexts[1]: receive(event_context=e, line_id=x.pk, quantity=10),  # type: ignore[misc]
        )
        refused = [one for one in (back, count) if isinstance(one, Refusal)]
        assert [one.code for one in refused] == ["counted_there" if refused[0] is back else "dispatch_taken_back"]
        counted = 0 if count is refused[0] else 10
        assert globe.at(globe.moulder, Condition.STOCK, 30) == shelf - counted
        assert globe.at(globe.bench, Condition.IN_PROCESS, 40) == there + counted
        assert globe.at(globe.moulder, Condition.ON_THE_ROAD, 40) == 0
    assert everything_agrees()
