"""What a trace cannot tell stands on its pages, in figures, and is held by nobody's hold."""

from __future__ import annotations

import pytest

from tests import factory
from tests.cast import founder_client
from tests.rubber import Rubber, lot_of
from tests.web.founder.scene import done
from tests.web.founder.signed_in import assert_costs_the_same, text_of
from traveller.batches.actions.hold import hold_lot
from traveller.batches.steps.consume import Used
from traveller.ledger.models import Hold
from traveller.orders.actions.adopt_batch import adopt_batch

pytestmark = pytest.mark.django_db


@pytest.fixture
def rubber() -> Rubber:
    """215 good bands of unknown material, 100 of them printed."""
    rubber = Rubber()
    rubber.count(rubber.taken, 20, 2, 215, scrap=5)
    return rubber


def printed(rubber: Rubber) -> str:
    run = factory.make_batch(rubber.printed, wanted=100)
    return rubber.count(run, 10, 3, 100, Used(lot_of(rubber.taken).pk)).code


def page(path: str) -> str:
    return text_of(founder_client().get(path))


def test_the_page_of_a_lot_says_in_how_many_pieces_it_may_be(rubber: Rubber) -> None:
    words = page(f"/lots/{rubber.gum_lot.code}")
    assert "What may also contain it" in words
    assert "215 Band of unknown material (Gum) may contain it" in words


def test_without_pieces_of_unknown_material_nothing_is_said(rubber: Rubber) -> None:
    other = factory.make_stock(factory.make_part("CARBON", "material", unit="GRM"), rubber.shop, 900)
    words = page(f"/lots/{other.code}")
    assert "may also contain" not in words and "unknown material" not in words
    assert "Where it came from Nothing recorded." in words


def test_where_it_came_from_is_unknown_material_and_not_nothing(rubber: Rubber) -> None:
    words = page(f"/lots/{rubber.taken.code}")
    came = words[words.index("Where it came from") : words.index("Where it went")]
    assert "215 Band of unknown material (Gum)" in came and "Nothing recorded" not in came
    batch = page(f"/batches/{rubber.taken.code}")
    made_of = batch[batch.index("Made of") : batch.index("Went into")]
    assert "215 Band of unknown material (Gum)" in made_of and "Nothing recorded" not in made_of


def test_what_was_made_of_it_inherits_the_doubt(rubber: Rubber) -> None:
    words = page(f"/lots/{printed(rubber)}")
    came = words[words.index("Where it came from") : words.index("Where it went")]
    assert "215 Band of unknown material (Gum)" in came and "Band, 100" in came


def test_a_hold_lists_what_may_also_contain_it_and_does_not_hold_it(rubber: Rubber) -> None:
    code = printed(rubber)
    done(hold_lot(event_context=factory.event_context("hold"), lot_id=rubber.gum_lot.pk, reason="smells"))
    words = page(f"/holds/{Hold.objects.get(root=None).pk}")
    assert "What may also contain it" in words
    assert "215 Band of unknown material (Gum) may contain it" in words
    assert "not held with it" in words
    assert f"{code[:3]}" in words
    assert not Hold.objects.exclude(lot=rubber.gum_lot).exists()


def test_an_inferred_use_is_told_as_one_that_may_be(rubber: Rubber) -> None:
    run = factory.make_batch(rubber.band, name="inferred")
    lot = rubber.count(run, 10, 2, 50)
    assert "(may contain it: inferred from the bill, not scanned)" in page(f"/lots/{rubber.gum_lot.code}")
    scanned = rubber.count(factory.make_batch(rubber.printed, name="scanned"), 10, 3, 20, Used(lot.pk))
    words = page(f"/lots/{lot.code}")
    went = words[words.index("Where it went") :]
    assert scanned.code[:3] in went and "may contain it" not in went


def test_the_pages_cost_the_same_with_many(rubber: Rubber) -> None:
    printed(rubber)
    factory.make_stock(rubber.printed, rubber.shop, 7)

    def more() -> None:
        for n in range(12):
            stamp = rubber.at(1)
            done(adopt_batch(event_context=stamp, reference=f"R-{n}", part_id=rubber.band.pk, good={10: 9}))
            factory.make_stock(rubber.printed, rubber.shop, 60, name=str(n))

    assert_costs_the_same(founder_client(), f"/lots/{rubber.gum_lot.code}", more)
