from __future__ import annotations

import pytest

from traveller.rules.cautions import CAUTIONS, CLASSES, DEFERENCE, LICENCE_NOTE


@pytest.mark.parametrize("name", CLASSES)
def test_every_class_warns_and_then_defers(name: str) -> None:
    *warnings, last = CAUTIONS[name]
    assert warnings and last == DEFERENCE
    assert all(text.endswith(".") and len(text) < 220 for text in CAUTIONS[name])


def test_the_last_word_belongs_to_the_shop_the_code_and_the_licence() -> None:
    for owner in ("own procedures", "local codes", "licensed practice"):
        assert owner in DEFERENCE


@pytest.mark.parametrize(
    ("name", "hazard"),
    [
        ("drying", "hot"),
        ("moulding", "interlocks"),
        ("moulding", "Lock out"),
        ("cooling", "hot"),
        ("deburring", "eyes"),
        ("leak_test", "pressure"),
        ("mixing", "nip"),
        ("mixing", "trip bars"),
        ("curing", "two-hand control"),
        ("curing", "racks"),
        ("printing", "isocyanates"),
        ("baking", "authority having jurisdiction"),
    ],
)
def test_the_worst_hazard_of_an_operation_is_named(name: str, hazard: str) -> None:
    assert any(hazard in text for text in CAUTIONS[name])


def test_the_licence_note_claims_no_compliance() -> None:
    assert "claim no compliance" in LICENCE_NOTE
    assert "Ask the authority" in LICENCE_NOTE
