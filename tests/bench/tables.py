"""A table of fifty rows against a template written by hand."""

from __future__ import annotations

from collections.abc import Callable
from statistics import median

from django.template import Context, Template
from django.test import RequestFactory

from tests.bench.figures import Figure, Size, in_turns
from traveller.web.tables import CodeColumn, NumberColumn, PaperTable, TableColumn

ROWS = 50
ROUNDS: dict[Size, int] = {"tiny": 1, "quick": 15, "full": 61}
BY_HAND = (
    "{% load look %}<table><tbody>{% for r in rows %}<tr><th>{{ r.code|code }}</th><td>{{ r.a }}</td><td>{{ r.b }}</td>"
    "<td>{{ r.c }}</td><td>{{ r.d }}</td><td>{{ r.good|whole }}</td><td>{{ r.held|whole }}</td></tr>{% endfor %}"
    "</tbody></table>"
)


class Plain(PaperTable):
    """Seven columns of stock."""

    code = CodeColumn()
    a = TableColumn()
    b = TableColumn()
    c = TableColumn()
    d = TableColumn()
    good = NumberColumn()
    held = NumberColumn()


def measure(size: Size) -> list[Figure]:
    request = RequestFactory().get("/stock/?sort=good")
    rows = [
        {"code": f"2HV-0TB-{n}", "a": "Globe", "b": "Own bench", "c": "x" * 9, "d": "stock", "good": n * 97, "held": n}
        for n in range(ROWS)
    ]
    template = Template(BY_HAND)
    ours: Callable[[], object] = lambda: Plain(rows).as_html(request)  # noqa: E731
    by_hand: Callable[[], object] = lambda: template.render(Context({"rows": rows}))  # noqa: E731
    ours(), by_hand()
    rounds = in_turns(ROUNDS[size], lambda turn: [ours] * 3, lambda turn: [by_hand] * 3)
    times = 1 / rounds.rate_ratio(cpu=True)
    said = (
        f"{median(s.cpu_ms for s in rounds.ours):.2f} ms of CPU, by hand {median(s.cpu_ms for s in rounds.floor):.2f}"
    )
    return [Figure("a table of 50 rows, times a template by hand", times, "at most", 4.5, "x", said)]
