"""A site was heard when its people recorded something, or said it by phone; the founder's desk work is no news."""

from __future__ import annotations

from datetime import timedelta

import pytest

from sites.actor import Actor
from sites.models import Site
from tests import cast, factory
from traveller.journal.heard import last_heard
from traveller.journal.record import record

pytestmark = pytest.mark.django_db
_DESK = (
    "purchased", "delivered", "difference settled", "unexplained settled", "stock opened", "adopted", "held", "decided",
    "released", "made again", "set aside taken", "count corrected",
)  # fmt: skip
_PRINTS = ("traveller printed", "label printed", "note printed", "packing list printed")


def tell(site: Site, kind: str, actor: Actor, day: int) -> None:
    at = factory.MONDAY + timedelta(days=day)
    stamp = factory.event_context(f"{site.code} {kind} {actor} {day}", at=at, actor=actor)
    record(event_context=stamp, kind=kind, subjects=[], reported={}, site_id=site.pk)


def heard_on(site: Site) -> int | None:
    """The day after MONDAY on which a site was last heard."""
    found = last_heard()[site.pk]
    return None if found is None else (found - factory.MONDAY).days


def by_phone(site: Site) -> Actor:
    return Actor(kind="founder", person="Mara Lind", site_id=site.pk, on_behalf=True)


def test_a_site_of_which_nothing_was_reported_was_not_heard() -> None:
    assert heard_on(factory.make_site()) is None


def test_what_its_people_or_its_packer_record_is_heard() -> None:
    shop, bench = factory.make_site(), factory.make_bench()
    tell(shop, "counted", factory.operator(shop), 1)
    tell(bench, "packed", factory.packer(bench), 2)
    assert (heard_on(shop), heard_on(bench)) == (1, 2)


def test_what_it_says_by_phone_is_heard() -> None:
    shop = factory.make_site()
    tell(shop, "counted", by_phone(shop), 3)
    assert heard_on(shop) == 3


@pytest.mark.parametrize("kind", _DESK)
def test_the_founders_desk_work_is_no_news_from_a_shop(kind: str) -> None:
    """Also where it stands under the shop as if it had phoned, and at her own bench."""
    shop, bench = factory.make_site(), factory.make_bench()
    for site in (shop, bench):
        tell(site, "counted", factory.operator(site), 1)
        tell(site, kind, factory.founder(), 5)
        tell(site, kind, by_phone(site), 6)
    assert (heard_on(shop), heard_on(bench)) == (1, 1)


@pytest.mark.parametrize("kind", _PRINTS)
def test_a_paper_printed_says_nothing_of_the_goods(kind: str) -> None:
    shop = factory.make_site()
    tell(shop, kind, factory.operator(shop), 1)
    tell(shop, kind, factory.founder(), 2)
    assert heard_on(shop) is None


def test_the_founder_speaking_as_herself_is_no_shop_but_one_of_her_own_bench() -> None:
    shop, bench = factory.make_site(), factory.make_bench()
    for site in (shop, bench):
        tell(site, "sent", factory.founder(), 4)
    assert (heard_on(shop), heard_on(bench)) == (None, 4)


def test_what_follows_from_anothers_news_is_no_news_of_its_own() -> None:
    """A try of the tester at the bench is judged in each batch that was tested, wherever that step is done."""
    shop, bench = factory.make_site(), factory.make_bench()
    tell(shop, "judged", factory.operator(bench), 2)
    assert heard_on(shop) is None


def test_a_pass_of_another_site_speaks_for_its_own_alone() -> None:
    shop, rival = factory.make_site(), factory.make_site("rival")
    row, _token = cast.make_pass(rival, at=factory.MONDAY)
    tell(shop, "counted", Actor(kind="operator", person="Bruno", site_id=rival.pk, pass_id=row.pk), 2)
    assert heard_on(shop) is None
    own, _token = cast.make_pass(shop, at=factory.MONDAY)
    tell(shop, "counted", Actor(kind="operator", person="Ines", site_id=shop.pk, pass_id=own.pk), 3)
    assert heard_on(shop) == 3


def test_the_worker_is_nobody_at_the_shop() -> None:
    shop = factory.make_site()
    tell(shop, "counted", Actor(kind="system", person="worker"), 2)
    assert heard_on(shop) is None


def test_it_is_asked_as_often_for_any_number_of_sites(django_assert_num_queries: object) -> None:
    for n in range(12):
        factory.make_site(f"shop{n}")
    with django_assert_num_queries(2):  # type: ignore[operator]
        assert len(last_heard()) == 12
