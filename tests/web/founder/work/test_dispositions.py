"""The founder's ways out of a hold, each told over HTTP: what follows, who said it, when, why, and on which paper."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from tests import cast
from tests import factory as f
from tests.cast import founder_client
from tests.globe import ok
from tests.paper.reading import texts
from tests.web.founder.signed_in import news_id, text_of
from tests.web.oven import BAKE, IN_AT, Oven, log, make_oven
from traveller.batches.actions.hold import hold_lot
from traveller.batches.actions.measure import measure
from traveller.batches.actions.report import report
from traveller.batches.models import Attachment, Batch, Load, Verdict
from traveller.batches.proof.readings import ReadingTold
from traveller.journal.models import Event
from traveller.ledger.models import Hold, Lot

pytestmark = pytest.mark.django_db

COLD, HOT = [70.0] * 41, [85.0] * 41
WHY = "looked at five of them: sound"


def too_cold() -> tuple[Oven, Hold]:
    """All 60 bands were baked at 70 degrees, counted, and are held."""
    oven = make_oven()
    oven.send(log(COLD), oven.bake())
    surface(oven, "85")
    ok(report(event_context=oven.event_context(IN_AT + timedelta(hours=1)), step_id=oven.step.pk, good=60, done=True))
    return oven, Hold.objects.get(root=None, closed_at=None)


def surface(oven: Oven, celsius: str, days: int = 0) -> None:
    reported = [ReadingTold("surface", "surface", celsius, "C")]
    ok(
        measure(
            event_context=oven.event_context(IN_AT + timedelta(days=days, minutes=50)),
            step_id=oven.step.pk,
            readings=reported,
        )
    )


def decide(hold: Hold, disposition: str, **reported: object) -> Any:
    form = {"news_id": news_id(), "disposition": disposition, "reason": WHY, **reported}
    return founder_client().post(f"/holds/{hold.pk}", form)


def record_of(batch: Batch) -> str:
    """All words of the process record, as it is printed."""
    return " ".join(" ".join(texts(founder_client().get(f"/batches/{batch.code}/record").content)).split())


def lot_of(oven: Oven) -> Lot:
    oven.batch.refresh_from_db()
    assert oven.batch.lot is not None
    return oven.batch.lot


@pytest.mark.parametrize(
    ("disposition", "extra"),
    [("concession", {}), ("rework", {"to_step": "20"}), ("regrade", {"to_part": "second"}), ("scrap", {})],
)
def test_each_way_out_is_one_event_with_who_when_and_why_and_stands_in_history_and_record(
    disposition: str, extra: dict[str, str]
) -> None:
    oven, hold = too_cold()
    if "to_part" in extra:
        extra = {"to_part": str(f.make_part("BAND-SECOND").pk)}
    assert decide(hold, disposition, **extra).status_code == 302
    event = Event.objects.get(kind="decided")
    assert (event.person, event.data["told"]["reason"], event.data["told"]["disposition"]) == ("mara", WHY, disposition)
    assert abs((event.recorded_at - event.happened_at).total_seconds()) < 60
    hold.refresh_from_db()
    assert (hold.disposition, hold.reason, hold.closed_event_id) == (disposition, WHY, event.pk)
    assert WHY in text_of(founder_client().get(f"/batches/{oven.batch.code}"))
    printed = record_of(oven.batch)
    assert WHY in printed and disposition in printed and "mara" in printed


@pytest.mark.parametrize("disposition", ["concession", "scrap", "rework", "regrade"])
def test_none_of_them_is_taken_without_a_reason(disposition: str) -> None:
    _oven, hold = too_cold()
    extra = {"to_step": "20"} if disposition == "rework" else {"to_part": str(f.make_part("SECOND").pk)}
    for reason in ("", "   "):
        refused = decide(hold, disposition, reason=reason, **extra)
        assert refused.status_code == 422 and f'value="{disposition}"' in refused.content.decode()
    assert not Event.objects.filter(kind="decided").exists() and Hold.objects.filter(closed_at=None).count() == 1


def test_a_concession_lets_the_lot_go_and_its_failure_stays_with_name_and_reason_on_the_record() -> None:
    oven, hold = too_cold()
    decide(hold, "concession")
    assert not Hold.objects.filter(closed_at=None).exists()
    row = Verdict.objects.get(step=oven.step, check_key="bake", load=None, latest=True)
    assert row.outcome == "failed" and row.conceded_event is not None, "beside the outcome, never instead of it"
    printed = record_of(oven.batch)
    assert "FAILED" in printed and f"conceded by mara: {WHY}" in re.sub(r"conceded by\s+", "conceded by ", printed)


def test_rework_goes_back_to_its_step_whose_tests_are_made_again() -> None:
    oven, hold = too_cold()
    decide(hold, "rework", to_step="20")
    assert f.balance(lot_of(oven), oven.site, "rework", 20) == 60
    standing = Verdict.objects.filter(step=oven.step, latest=True).exclude(outcome="missing")
    assert not standing.exists(), "what was proved before counts no more"
    # Baked again, hot enough this time.
    again = oven.bake(start=IN_AT + timedelta(days=1))
    oven.send(log(HOT, start=IN_AT + timedelta(days=1)), again)
    surface(oven, "86", days=1)
    event_context = oven.event_context(IN_AT + timedelta(days=1, hours=1))
    ok(report(event_context=event_context, step_id=oven.step.pk, good=60, again=True, done=True))
    assert oven.verdict() == ("passed", "soak.passed")
    assert not Hold.objects.filter(closed_at=None).exists()
    printed = record_of(oven.batch)
    assert "FAILED" in printed and "passed" in printed, "both bakings stand in the record"
    assert Load.objects.filter(step=oven.step, struck_by=None).count() == 1
    assert Attachment.objects.filter(struck_by=None).count() == 1


def test_a_release_needs_a_reason_and_is_offered_only_where_no_check_failed() -> None:
    oven, failed = too_cold()
    assert 'value="release"' not in founder_client().get(f"/holds/{failed.pk}").content.decode()
    assert decide(failed, "release").status_code == 422
    decide(failed, "concession")
    ok(
        hold_lot(
            event_context=f.event_context("own", actor=f.founder()), lot_id=lot_of(oven).pk, reason="smells of smoke"
        )
    )
    own = Hold.objects.get(root=None, closed_at=None)
    page = founder_client().get(f"/holds/{own.pk}").content.decode()
    assert 'value="release"' in page and 'value="concession"' not in page
    assert decide(own, "release", reason="").status_code == 422
    assert Hold.objects.filter(closed_at=None).exists()
    assert decide(own, "release", reason="aired out").status_code == 302
    assert not Hold.objects.filter(closed_at=None).exists()
    assert "aired out" in record_of(oven.batch)


def test_what_was_bought_is_returned_and_stays_held_until_it_is_gone() -> None:
    bench, supplier = f.make_bench(), f.make_site("supplier", "supplier", name="Pucks and Co.")
    lot = f.make_stock(f.make_part("PUCK", "bought"), bench, 50)
    ok(hold_lot(event_context=f.event_context("own", actor=f.founder()), lot_id=lot.pk, reason="flickers"))
    hold = Hold.objects.get()
    assert decide(hold, "return", reason="").status_code == 422
    assert decide(hold, "return").status_code == 302
    hold.refresh_from_db()
    assert hold.closed_at is None and hold.disposition == "return"
    client = founder_client()
    path = f"/consignments/new?origin={bench.code}&to={supplier.code}&purpose=return"
    assert "Puck" in text_of(client.get(path))
    assert Event.objects.get(kind="decided").data["told"]["reason"] == WHY


# ------------------------------------------------------------------ the batch's page
def test_every_check_stands_with_its_limit_verdict_figure_evidence_and_what_it_blocks() -> None:
    oven = make_oven()
    oven.send(log(COLD), oven.bake())
    surface(oven, "96")
    answer = founder_client().get(f"/batches/{oven.batch.code}")
    words, page = text_of(answer), answer.content.decode()
    proof = words[words.index("What must be proved") :]
    assert "bake 30 min unbroken at 80 C or more" in proof.replace("°C", "C") and "never above 95 C" in proof
    assert "0 min unbroken at or above 80 C, 30 min needed" in proof.replace("°C", "C")
    assert "surface: 96 C, at most 95 C allowed." in proof.replace("°C", "C")
    assert proof.count("sending") >= 2, "what each blocks"
    assert f'href="/evidence/{Attachment.objects.get().pk}"' in page


def test_advice_is_shown_and_recorded_and_holds_nothing() -> None:
    oven = make_oven(check=replace(BAKE, blocks="nothing"))
    oven.send(log(COLD), oven.bake())
    surface(oven, "85")
    ok(report(event_context=oven.event_context(IN_AT + timedelta(hours=1)), step_id=oven.step.pk, good=60, done=True))
    assert not Hold.objects.exists()
    words = text_of(founder_client().get(f"/batches/{oven.batch.code}"))
    assert "0 min unbroken at or above 80 C, 30 min needed" in words.replace("°C", "C") and "advice" in words
    printed = record_of(oven.batch)
    assert "bake (advice)" in printed and "FAILED" in printed
    assert Verdict.objects.filter(step=oven.step, check_key="bake", outcome="failed", latest=True).exists()


def test_a_shop_sees_neither_the_decision_form_nor_the_record() -> None:
    oven, hold = too_cold()
    phone = cast.pass_client(oven.site)
    for path in (f"/holds/{hold.pk}", f"/batches/{oven.batch.code}/record", f"/batches/{oven.batch.code}"):
        assert phone.get(path).status_code == 404
    reported = {"news_id": news_id(), "disposition": "concession", "reason": WHY}
    assert phone.post(f"/holds/{hold.pk}", reported).status_code == 404
    assert Hold.objects.filter(closed_at=None).count() == 1
