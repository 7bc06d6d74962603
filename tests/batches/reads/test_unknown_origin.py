"""What nobody recorded the material of may be made of any lot of it, but of none that came later."""

from __future__ import annotations

import pytest

from tests import factory
from tests.factory import Op
from tests.rubber import Rubber, lot_of
from tests.web.founder.scene import done
from traveller.batches.actions.undo import undo
from traveller.batches.reads.unknown_origin import may_contain, unknown_among
from traveller.batches.steps.consume import Used
from traveller.journal.models import Event
from traveller.orders.actions.adopt_batch import adopt_batch

pytestmark = pytest.mark.django_db


@pytest.fixture
def rubber() -> Rubber:
    return Rubber()


def test_what_was_taken_over_is_of_unknown_material_in_figures(rubber: Rubber) -> None:
    (row,) = unknown_among([lot_of(rubber.taken).pk])
    assert (row.component_id, row.pieces) == (rubber.gum.pk, 220)
    rubber.count(rubber.taken, 20, 2, 215, scrap=5)
    assert [row.pieces for row in unknown_among([lot_of(rubber.taken).pk])] == [215]


def test_a_gum_lot_may_be_in_bands_of_unknown_material_and_in_what_these_went_into(rubber: Rubber) -> None:
    rubber.count(rubber.taken, 20, 2, 220)
    print_run = factory.make_batch(rubber.printed, wanted=100)
    printed = rubber.count(print_run, 10, 3, 100, Used(lot_of(rubber.taken).pk))
    found = may_contain(rubber.gum_lot)
    assert [(row.lot_id, row.pieces) for row in found.origins] == [(lot_of(rubber.taken).pk, 220)]
    assert found.lot_ids == {lot_of(rubber.taken).pk, printed.pk}


def test_bands_whose_gum_was_scanned_or_inferred_are_of_known_material(rubber: Rubber) -> None:
    for name, used in (("scanned", [Used(rubber.gum_lot.pk)]), ("inferred", [])):
        run = factory.make_batch(rubber.band, name=name)
        lot = rubber.count(run, 10, 2, 50, *used)
        assert not unknown_among([lot.pk])
        assert lot.pk not in may_contain(rubber.gum_lot).lot_ids


def test_a_count_where_no_gum_was_ever_known_to_lie_is_of_unknown_material() -> None:
    rubber = Rubber()
    other = factory.make_site("other")
    foot = factory.make_part("FOOT")
    factory.make_bill(foot, rubber.gum, per_thousand=9_000, step=10)
    factory.make_routing(foot, [Op(10, other, "press", "make")])
    run = factory.make_batch(foot)
    lot = rubber.count(run, 10, 2, 40)
    assert [(row.lot_id, row.pieces) for row in unknown_among([lot.pk])] == [(lot.pk, 40)]
    assert lot.pk in may_contain(rubber.gum_lot).lot_ids


def test_what_has_not_come_to_the_step_that_uses_it_is_made_of_nothing_yet(rubber: Rubber) -> None:
    factory.make_batch(rubber.band, name="released")
    late = factory.make_part("CAP")
    factory.make_bill(late, rubber.gum, per_thousand=500, step=20)
    factory.make_routing(late, [Op(10, rubber.shop, "press", "make"), Op(20, rubber.shop, "line")])
    lot = rubber.count(factory.make_batch(late), 10, 2, 30)
    assert not unknown_among([lot.pk])
    assert lot.pk not in may_contain(rubber.gum_lot).lot_ids


def test_opening_stock_of_a_part_that_is_made_is_of_unknown_material(rubber: Rubber) -> None:
    stock = factory.make_stock(rubber.printed, rubber.shop, 60)
    assert [(row.component_id, row.pieces) for row in unknown_among([stock.pk])] == [(rubber.band.pk, 60)]
    # At second hand: the bands in it may be of the gum.
    assert stock.pk in may_contain(rubber.gum_lot).lot_ids
    assert not unknown_among([rubber.gum_lot.pk])


def test_gum_that_came_after_the_bands_were_made_is_not_in_them(rubber: Rubber) -> None:
    late = rubber.buy(5)
    assert not may_contain(late).origins and not may_contain(late).lot_ids


def test_gum_that_was_delivered_before_may_be_in_them(rubber: Rubber) -> None:
    early = rubber.buy(0.5)
    assert lot_of(rubber.taken).pk in may_contain(early).lot_ids


def test_a_use_that_was_taken_back_is_unknown_again(rubber: Rubber) -> None:
    """The bands were counted with no scan; the count that named the gum was struck."""
    run = factory.make_batch(rubber.band, name="struck")
    lot = rubber.count(run, 10, 2, 50, Used(rubber.gum_lot.pk))
    done(undo(event_context=rubber.at(2.001), event_id=Event.objects.filter(kind="counted").latest("id").pk))
    # Nothing is counted any more, so nothing was made of anything.
    assert not unknown_among([lot.pk])


def test_it_is_asked_as_often_for_many(rubber: Rubber, django_assert_num_queries: object) -> None:
    factory.make_stock(rubber.printed, rubber.shop, 60)
    for n in range(8):
        with django_assert_num_queries(8):  # type: ignore[operator]
            assert len(may_contain(rubber.gum_lot).origins) == 2 + 2 * n
        stock = done(
            adopt_batch(event_context=rubber.at(1), reference=f"RUN-{n}", part_id=rubber.band.pk, good={10: 9})
        )
        assert stock.lot is not None
        factory.make_stock(rubber.printed, rubber.shop, 60, name=str(n))
