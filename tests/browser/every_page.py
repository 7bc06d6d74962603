"""A page of every kind that an operator meets, with work under way on it."""

from __future__ import annotations

from tests import factory
from tests.web.operator.floor import Floor, moved
from traveller.batches.models import Load
from traveller.dispatches.models import Consignment


def every_page(floor: Floor) -> dict[str, str]:
    """The addresses by name."""
    floor.tested(48)
    moved(floor.send_all())
    moved(floor.count(20, 72, {"sure:step_was_done": "yes"}, shots=36))
    bad = floor.post(floor.path(30, "load"), quantity=24)
    assert bad.status_code == 302
    failed = Load.objects.latest("id")
    out = moved(floor.post(f"/here/load/{failed.pk}/out", {"sure:out_too_early": "yes"}))
    moved(floor.post(floor.path(30, "load"), quantity=24, place="fixture B"))
    reported = moved(floor.count(30, 10, {"sure:step_was_done": "yes"}, rework=1, scrap__short=1))
    problem = moved(floor.post(f"/here/problem/{floor.batch.code}", reason="black specks"))
    step = {number: f"/here/step/{floor.step(number).pk}" for number in (10, 20, 30, 40, 50)}
    return {
        "today": "/here/",
        "unknown": f"/here/scan?code={floor.batch.code[:-1]}{'2' if floor.batch.code[-1] != '2' else '3'}",
        "is this it": f"/here/t/{floor.batch.code}/30",
        "step, loads in": step[30],
        "step, makes": step[20],
        "step, done": step[10],
        "step, waits": step[40],
        "finish": f"{step[30]}/done",
        "count": f"{step[30]}/count",
        "count, born": f"{step[20]}/count",
        "rework": f"{step[30]}/count?again=1",
        "load in": f"{step[30]}/load",
        "load out": f"/here/load/{Load.objects.latest('id').pk}/out",
        "load out, not known": f"{step[30]}/out?load={factory.uid('of no load')}",
        "measure": f"{step[40]}/measure",
        "told": reported,
        "told, failed": out,
        "correct": f"{reported}/correct",
        "problem": f"/here/problem/{floor.batch.code}",
        "problem told": problem,
        "send": "/here/send",
        "sent": f"/here/sent/{Consignment.objects.get().code}",
        "unannounced": "/here/unannounced",
        "label": f"/here/label/{floor.batch.code}",
    }
