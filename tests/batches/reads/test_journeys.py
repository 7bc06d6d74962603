"""Where the pieces of a lot lay at every moment, from the postings."""

from __future__ import annotations

import pytest

from tests.factory import MONDAY
from tests.web.founder import scene
from traveller.batches.reads.journeys import Journey, journeys
from traveller.ledger.models import Lot

pytestmark = pytest.mark.django_db


def _journey(lot: Lot | None) -> Journey:
    assert lot is not None
    return journeys([lot.pk])[lot.pk]


def test_a_part_sent_ahead_is_a_leg_with_what_stayed_behind() -> None:
    played = scene.play(MONDAY)
    bench, moulder = played.sites["bench"].pk, played.sites["moulder"].pk
    legs = _journey(played.batches["globe"].lot).legs
    reported = [(leg.from_site, leg.pieces, leg.rest, leg.to_site, leg.arrived) for leg in legs]
    # 982 lay there: 970 good and 12 to be worked again, which stay.
    assert reported == [(moulder, 400, 582, bench, 400), (moulder, 570, 12, bench, 560)]
    assert [leg.arrived_at for leg in legs] == [played.at(5.4), played.at(7.4)]


def test_goods_on_the_road_have_left_and_not_arrived() -> None:
    played = scene.play(MONDAY)
    played.send("band", "printer", "bench", 9, 300)
    journey = _journey(played.batches["band"].lot)
    assert [(leg.pieces, leg.arrived_at) for leg in journey.legs] == [(300, None)]
    assert not journey.gone


def test_pieces_lie_where_the_ledger_says() -> None:
    played = scene.play(MONDAY)
    lot = played.batches["globe"].lot
    assert lot is not None
    lying = _journey(lot).lying
    assert lying == {played.sites["moulder"].pk: 12, played.sites["bench"].pk: 960}
    assert sum(change.pieces for change in _journey(lot).scrap) == 75


def test_what_is_used_up_is_gone_and_names_what_it_went_into() -> None:
    played = scene.play(MONDAY)
    scene.send_and_receive(played, "band", "printer", "bench", 9, 400)
    played.report("lantern", 10, 12, 400)
    band, lantern = played.batches["band"].lot, played.batches["lantern"].lot
    assert band is not None and lantern is not None
    found = journeys([band.pk, lantern.pk])
    assert found[band.pk].went_into == {lantern.pk}
    assert found[band.pk].lying[played.sites["bench"].pk] == 0


def test_a_batch_split_off_begins_where_it_was_split() -> None:
    played = scene.play(MONDAY)
    journey = _journey(played.batches["short bake"].lot)
    assert [(change.site_id, change.pieces) for change in journey.changes] == [(played.sites["printer"].pk, 210)]
