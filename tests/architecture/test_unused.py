"""Nothing stands in the product that nobody asks for."""

from __future__ import annotations

import pytest

from tests.architecture.unused import EXCEPTIONS, unused


@pytest.mark.long
def test_whatever_stands_in_the_product_is_used_by_it_or_has_a_reason_to_wait() -> None:
    found = list(unused())
    wrong = [where for name, where in found if name not in EXCEPTIONS]
    assert not wrong, "remove it, use it, or give its reason in tests/architecture/unused.py:\n" + "\n".join(wrong)
    stale = set(EXCEPTIONS) - {name for name, _ in found}
    assert not stale, f"used again, or gone: no exception any more: {sorted(stale)}"
