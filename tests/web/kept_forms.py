"""Every form that a device keeps until its answer has come, made ready: the world behind it, its page, what is typed.

The forms of a shop that stand in test_replay.py are taken from there.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from tests import cast, factory
from tests.batches.proof.test_first_piece import make_mould
from tests.batches.proof.test_tester import make_tub
from tests.cast import founder_client
from tests.globe import COOLING, Globe, make_globe, ok
from tests.web.founder.orders.test_plan import worked_example
from tests.web.founder.parts.test_purchases import bought, gum
from tests.web.founder.settings.test_workbook import csv_files, tried
from tests.web.founder.subcontractors.test_consignments import counted, on_the_road
from tests.web.founder.subcontractors.test_send_goods import WAY, field_of, resin
from tests.web.founder.today.test_clock import jump
from tests.web.founder.today.test_phone_entries import clash
from tests.web.founder.work.test_holds import held_by_log
from tests.web.founder.work.test_log_questions import HOT
from tests.web.operator import test_replay as replay
from tests.web.operator.floor import Clock, Floor, make_floor, moved
from tests.web.oven import log, make_oven, photo
from traveller.batches.actions.unknown import arrived_unknown
from traveller.batches.models import Attachment, Load
from traveller.journal.models import Event
from traveller.ledger.models import Account, Condition
from traveller.orders.models import BatchShare

# Who sends it, on which page (an address, or the page that stands open), which of its forms, what is typed into it.
Ready = tuple[Client, Any, str, dict[str, Any]]
# Sets the clock that the door reads.
SetClock = Callable[[Callable[[], Any]], None]


def _entry(name: str, typed: dict[str, Any]) -> Callable[[SetClock], Ready]:
    def made(set_clock: SetClock) -> Ready:
        floor = make_floor()
        set_clock(floor.clock)
        for_review = clash(floor)
        return cast.founder_client(), "/phone-entries", f"{name}-{for_review.pk}", typed

    return made


def correct(set_clock: SetClock) -> Ready:
    globe = make_globe()
    event = globe.report(20, 60).event
    return founder_client(), f"/events/{event.pk}/correct", "correct", {"good": 58, "reason": "counted twice"}


def clock(set_clock: SetClock) -> Ready:
    jump(-7200)
    return founder_client(), "/founder/clock", "clock", {}


def decide(set_clock: SetClock) -> Ready:
    hold = held_by_log()[1]
    return founder_client(), f"/holds/{hold.pk}", "decide", {"disposition": "scrap", "reason": "too cold"}


def make_again(set_clock: SetClock) -> Ready:
    globe = make_globe(start=60)
    line = factory.make_line(factory.make_order(), globe.part, 50, released=50)
    BatchShare.objects.create(batch=globe.batch, line=line, quantity=50)
    globe.report(20, 37, done=True)
    return founder_client(), f"/missing/{globe.part.pk}", "make-again", {}


def make_pass(set_clock: SetClock) -> Ready:
    factory.make_site()
    return founder_client(), "/sites/moulder", "pass", {"kind": "operator", "label": "line 2"}


def understand(set_clock: SetClock) -> Ready:
    oven = make_oven()
    oven.send(log(HOT, head="time;oven"), oven.bake())
    return founder_client(), f"/evidence/{Attachment.objects.get().pk}", "understand", {"unit": "C"}


def send_goods(set_clock: SetClock) -> Ready:
    lot = resin()[2]
    return founder_client(), WAY, "send", {field_of(lot): "25 kg", "method": "weight"}


def hold_lot(set_clock: SetClock) -> Ready:
    lot = resin()[2]
    return founder_client(), f"/lots/{lot.code}", "hold", {"reason": "a torn bag"}


def _globe() -> Globe:
    made = make_globe(checks={30: (COOLING,)})
    made.report(20, 60, scrap={"short": 5})
    return made


def hold_batch(set_clock: SetClock) -> Ready:
    return founder_client(), f"/batches/{_globe().batch.code}", "hold", {"reason": "odd colour"}


def hold_a_part(set_clock: SetClock) -> Ready:
    globe = _globe()
    place = f"{globe.moulder.pk}:in_process:30"
    return founder_client(), f"/batches/{globe.batch.code}", "part", {
        "place": place, "quantity": 7, "part_reason": "spots",
    }  # fmt: skip


def _move(what: str, **typed: Any) -> Callable[[SetClock], Ready]:
    def made(set_clock: SetClock) -> Ready:
        globe = _globe()
        client = founder_client()
        reported = {"place": f"{globe.moulder.pk}:in_process:30", "reason": "so it is", **typed}
        if what == "join":
            child = _split(client, globe)
            reported["other"] = f"{globe.lot(child).pk}:{globe.moulder.pk}:in_process:30"
        if what == "rest":
            reported["target"] = f"batch:{factory.make_batch(globe.part, name='next').pk}"
        if what == "found":
            reported |= {"step": globe.step(20).pk, "quantity": 2}
        if what == "reroute":
            reported |= {"open_step": globe.step(50).pk, "site": factory.make_site("cooler").pk}
        return (
            client,
            f"/batches/{globe.batch.code}",
            what,
            {f"{what}-{name}": value for name, value in reported.items()},
        )

    return made


def _split(client: Client, globe: Globe) -> Any:
    typed = {"split-place": f"{globe.moulder.pk}:in_process:30", "split-quantity": 20, "split-reason": "two"}
    answer = client.post(f"/batches/{globe.batch.code}/move/split", {"news_id": str(factory.uid("split")), **typed})
    assert answer.status_code == 302
    return globe.children()[0]


def release(set_clock: SetClock) -> Ready:
    return founder_client(), f"/founder/plan?line={worked_example().pk}", "release", {}


def import_workbook(set_clock: SetClock) -> Ready:
    client = founder_client()
    return client, tried(client, csv_files()), "import", {}


def close_site(set_clock: SetClock) -> Ready:
    _globe()
    return founder_client(), "/sites/moulder", "site-close", {"on": "2026-03-31", "reason": "retired"}


def _closed() -> Client:
    client = founder_client()
    reported = {"news_id": str(factory.uid("closed")), "on": "2026-03-31", "reason": "retired"}
    assert client.post("/sites/moulder/close", reported).status_code == 302
    return client


def open_site(set_clock: SetClock) -> Ready:
    _globe()
    return _closed(), "/sites/moulder", "site-open", {"reason": "only a rumour"}


def write_off(set_clock: SetClock) -> Ready:
    globe = _globe()
    client = _closed()
    account = Account.objects.get(lot=globe.lot(), condition=Condition.IN_PROCESS)
    return client, "/sites/moulder", "write-off", {"place": account.pk, "quantity": 10, "reason": "sealed"}


def note_purchase(set_clock: SetClock) -> Ready:
    gum()
    typed = {"part": "GUM", "quantity": "25 kg", "supplier": "resins", "deliver_to": "bench"}
    return founder_client(), "/purchases/new", "purchase", typed


def delivery(set_clock: SetClock) -> Ready:
    gum()
    client = founder_client()
    typed = {"outside_number": "NR-2209", "quantity": "25", "unit": "kg"}
    return client, f"/purchases/{bought(client).code}", "delivery", typed


def match(set_clock: SetClock) -> Ready:
    globe = _globe()
    reported = {"site_id": globe.bench.pk, "words": "no label", "quantity": 40, "part_id": globe.part.pk}
    parked = ok(arrived_unknown(event_context=globe.event_context(), **reported))  # type: ignore[arg-type]
    typed = {"part": str(globe.part.pk), "reason": "old stock"}
    return founder_client(), f"/consignments/arrivals/{parked.pk}", "match", typed


def settle_rest(set_clock: SetClock) -> Ready:
    globe = make_globe()
    globe.report(20, 100)
    globe.report(30, 100)
    globe.moved(100)
    globe.report(40, 92)
    globe.finish(40, lost=8)
    account = Account.objects.get(condition=Condition.UNEXPLAINED)
    return founder_client(), f"/consignments/rests/{account.pk}", "rest", {"finding": "lost", "reason": "swept up"}


def first_piece(set_clock: SetClock) -> Ready:
    mould = make_mould(every_cavity="yes")
    batch = mould.batch()
    mould.count(batch, 12)
    mould.measure(batch, 1, 2)
    return founder_client(), f"/first-offs/{batch.steps.get().pk}", "first-off", {"approved": "yes", "reason": "good"}


def settle(set_clock: SetClock) -> Ready:
    consignment = on_the_road(1060, method="weight", sample=50)
    line = counted(consignment, 1000)
    typed = {f"l{line.pk}-finding": "lost", f"l{line.pk}-reason": "torn bag"}
    return founder_client(), f"/consignments/{consignment.code}", f"settle-{line.pk}", typed


def count_for(set_clock: SetClock) -> Ready:
    consignment = on_the_road()
    line = consignment.lines.get()
    typed = {f"l{line.pk}-quantity": "1,060", f"l{line.pk}-method": "hand"}
    return founder_client(), f"/consignments/{consignment.code}", f"count-{line.pk}", typed


# --- Forms of a shop --------------------------------------------------------------------------------------------


def _floor(set_clock: SetClock) -> Floor:
    floor = make_floor()
    set_clock(floor.clock)
    return floor


def _shop(form: Callable[[Floor], replay.Form], name: str) -> Callable[[SetClock], Ready]:
    """A form of test_replay.py, by the name that its page gives it."""

    def made(set_clock: SetClock) -> Ready:
        floor = _floor(set_clock)
        path, typed = form(floor)
        client = cast.pass_client(floor.bench, person="Tomas") if form in replay.AT_THE_BENCH else floor.phone
        # To begin a step is offered by the page of the step.
        return client, path.removesuffix("/start"), name, typed

    return made


def proof(set_clock: SetClock) -> Ready:
    floor = _floor(set_clock)
    file = SimpleUploadedFile("globe.jpg", photo(), content_type="image/jpeg")
    return floor.phone, floor.path(20, "proof?kind=photo"), "proof", {"file": file}


def understand_here(set_clock: SetClock) -> Ready:
    oven = make_oven()
    oven.send(log(HOT, head="time;oven"), oven.bake())
    return oven.phone, f"/here/proof/{Attachment.objects.get().pk}", "understand", {"unit": "C"}


def paper(set_clock: SetClock) -> Ready:
    floor = _floor(set_clock)
    return floor.phone, f"/here/paper/{floor.batch.code}", "paper", {}


def leak(set_clock: SetClock) -> Ready:
    tub = make_tub()
    batch = tub.batch(pieces=100)
    tub.start(batch, "06:00")
    set_clock(Clock(tub.at("06:02")))
    return cast.pass_client(tub.shop), f"/here/step/{tub.test(batch)}/leak", "leak", {"found": "1"}


def send_back(set_clock: SetClock) -> Ready:
    floor = _floor(set_clock)
    path, typed = replay.arrival(floor)
    bench = cast.pass_client(floor.bench, person="Tomas")
    moved(floor.post(path, typed, client=bench))
    back = f"/here/return?to={floor.moulder.pk}"
    page: Any = bench.get(back)
    return bench, back, "send-back", {page.context["rows"][0]["field"]: 5, "note": "scratched"}


def start(set_clock: SetClock) -> Ready:
    floor = _floor(set_clock)
    moved(floor.post(floor.path(10, "load")))
    floor.clock.go(hours=4)
    moved(floor.post(f"/here/load/{Load.objects.get().pk}/out"))
    return floor.phone, floor.path(20, "").rstrip("/"), "start", {}


def problem_back(set_clock: SetClock) -> Ready:
    """Offered on the page that says that it is held."""
    floor = _floor(set_clock)
    path, typed = replay.problem(floor)
    there = moved(floor.post(path, typed))
    return floor.phone, there, "problem-back", {}


def undo_offered(set_clock: SetClock) -> Ready:
    floor = _floor(set_clock)
    moved(floor.count(20, 12, shots=6))
    return floor.phone, f"/here/told/{Event.objects.get(kind='counted').uid}", "undo", {}


# By the name that its page gives it, `*` for the number of a row; two that share a name are told apart behind it.
FORMS: dict[str, Callable[[SetClock], Ready]] = {
    "make-again": make_again,
    "take-*": _entry("take", {}),
    "leave-*": _entry("leave", {"reason": "told twice"}),
    "correct": correct,
    "clock": clock,
    "decide": decide,
    "pass": make_pass,
    "understand": understand,
    "understand (shop)": understand_here,
    "send": send_goods,
    "send (shop)": _shop(replay.send, "send"),
    "send-back": send_back,
    "hold": hold_batch,
    "hold (lot)": hold_lot,
    "part": hold_a_part,
    "split": _move("split", quantity=20),
    **{what: _move(what) for what in ("join", "rest", "found", "reroute")},
    "rest (nobody can explain)": settle_rest,
    "release": release,
    "import": import_workbook,
    "site-close": close_site,
    "site-open": open_site,
    "write-off": write_off,
    "purchase": note_purchase,
    "delivery": delivery,
    "match": match,
    "first-off": first_piece,
    "settle-*": settle,
    "count-*": count_for,
    "proof": proof,
    "paper": paper,
    "leak": leak,
    "start": start,
    "already": _shop(replay.already, "already"),
    "load-in": _shop(replay.load_in, "load-in"),
    "load-out": _shop(replay.load_out, "load-out"),
    "count": _shop(replay.count, "count"),
    "measure": _shop(replay.measure, "measure"),
    "finish": _shop(replay.finish, "finish"),
    "problem": _shop(replay.problem, "problem"),
    "correct (shop)": _shop(replay.correct, "correct"),
    "undo": _shop(replay.undo, "undo"),
    "undo (on the page that says it is recorded)": undo_offered,
    "unannounced": _shop(replay.unannounced, "unannounced"),
    "else (apart)": _shop(replay.apart, "else"),
    "else (cavities)": _shop(replay.cavities, "else"),
    "else (own number)": _shop(replay.own_number, "else"),
    "arrival": _shop(replay.arrival, "arrival"),
    "problem-back": problem_back,
    "recount": _shop(replay.recount, "recount"),
    "back-here": _shop(replay.back_here, "back-here"),
}
