"""Short codes: drawn from the id, never given twice."""

from __future__ import annotations

import pytest

from tests import factory
from traveller.journal.models import Subject
from traveller.journal.subjects import code_for, register
from traveller.rules.codes import is_valid

pytestmark = pytest.mark.django_db


def test_a_code_follows_from_the_id_and_is_valid() -> None:
    subject = register(factory.uid("a lamp"), "lot")
    assert subject.code == code_for(factory.uid("a lamp"))
    assert is_valid(subject.code)


def test_a_taken_code_is_not_given_again() -> None:
    uid = factory.uid("second")
    Subject.objects.create(uid=factory.uid("first"), kind="lot", code=code_for(uid))
    subject = register(uid, "lot")
    assert subject.code == code_for(uid, 1)
    assert is_valid(str(subject.code))
