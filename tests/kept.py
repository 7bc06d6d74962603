"""A world that stands for a whole module: built once, given to each test as if it were new.

What a test does to it is taken back with the test's own transaction, which lies inside the module's; what it does to
the objects it does to copies. Every test of such a module has it before it, asked for or not; none may commit.

    @pytest.fixture(scope="module")
    def kept(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[World]:
        yield from standing(django_db_blocker, make_world)

    @pytest.fixture
    def world(kept: World, db: None) -> World:
        return deepcopy(kept)
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, TypeVar

from django.test import TestCase

if TYPE_CHECKING:
    from pytest_django.plugin import DjangoDbBlocker

W = TypeVar("W")


class _Frame(TestCase):
    """Django's own transaction around the tests of a class."""


def standing(blocker: DjangoDbBlocker, make: Callable[[], W]) -> Iterator[W]:
    """Build it within a transaction that is rolled back when the module's tests are over."""
    with blocker.unblock():
        _Frame.setUpClass()
        try:
            yield make()
        finally:
            _Frame.tearDownClass()
            _Frame.doClassCleanups()
