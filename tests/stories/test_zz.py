from datetime import timedelta
import pytest
from tests.stories.reckoned import Reckoned
from tests.stories.test_status_of_demo import _play, NOW
pytestmark = pytest.mark.django_db
def test_all() -> None:
    pages = Reckoned(closely=[NOW.date() - timedelta(days=n) for n in range(0, 33)], every_day=False)
    _play(None, pages)
    print(len(pages.looks))
    print("\n".join(pages.differences))
    assert not pages.differences
