"""From which address do wrong passwords come? Behind our own proxies too, and never from where a stranger says."""

from __future__ import annotations

import pytest
from django.core.exceptions import ImproperlyConfigured
from django.test import Client, RequestFactory, override_settings

from sites.passes import TRIES_MAX
from traveller import settings as ours
from traveller.environment import env_whole
from traveller.management.commands.serve import notes
from traveller.web.address import address_of

WRONG = {"username": "mara", "password": "not it"}


@pytest.mark.parametrize(
    ("proxies", "forwarded", "found"),
    [
        # Nobody is believed who was not named as a proxy.
        (0, "203.0.113.9", "192.0.2.1"),
        (0, "", "192.0.2.1"),
        (1, "203.0.113.9", "203.0.113.9"),
        # What the client wrote into the header stands before what our proxy added.
        (1, "10.0.0.1, 203.0.113.9", "203.0.113.9"),
        (2, "10.0.0.1, 203.0.113.9, 198.51.100.4", "203.0.113.9"),
        # Called past the outer proxy: what there is counts.
        (2, "203.0.113.9", "203.0.113.9"),
        (1, "", "192.0.2.1"),
        (1, "unknown", "192.0.2.1"),
        (1, "2001:db8:7:1::abcd", "2001:db8:7:1::/64"),
        (1, "[2001:db8:7:1::1]", "2001:db8:7:1::/64"),
        (1, "::ffff:203.0.113.9", "203.0.113.9"),
    ],
)
def test_only_entries_of_our_own_proxies_are_believed(proxies: int, forwarded: str, found: str) -> None:
    headers = {"x-forwarded-for": forwarded} if forwarded else {}
    request = RequestFactory().get("/", headers=headers, REMOTE_ADDR="192.0.2.1")
    with override_settings(PROXY_COUNT=proxies):
        assert address_of(request) == found


def test_the_number_of_proxies_comes_from_the_environment_and_is_none_at_first(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert ours.PROXY_COUNT == 0
    monkeypatch.setenv("TRAVELLER_PROXIES", "two")
    with pytest.raises(ImproperlyConfigured, match="TRAVELLER_PROXIES"):
        env_whole("TRAVELLER_PROXIES", 0)


@pytest.mark.django_db
@override_settings(PROXY_COUNT=1)
def test_behind_a_proxy_one_who_guesses_shuts_out_himself_alone() -> None:
    guesser = Client(REMOTE_ADDR="192.0.2.1", headers={"x-forwarded-for": "203.0.113.9"})
    for _ in range(TRIES_MAX):
        assert guesser.post("/sign-in", WRONG).status_code == 200
    assert guesser.post("/sign-in", WRONG).status_code == 429
    # Writing another address in front of it does not help him.
    spoofed = Client(REMOTE_ADDR="192.0.2.1", headers={"x-forwarded-for": "198.51.100.4, 203.0.113.9"})
    assert spoofed.post("/sign-in", WRONG).status_code == 429
    neighbour = Client(REMOTE_ADDR="192.0.2.1", headers={"x-forwarded-for": "198.51.100.4"})
    assert neighbour.post("/sign-in", WRONG).status_code == 200


@pytest.mark.django_db
def test_without_a_named_proxy_the_header_changes_nothing() -> None:
    for number in range(TRIES_MAX):
        headers = {"x-forwarded-for": f"203.0.113.{number}"}
        assert Client(REMOTE_ADDR="192.0.2.1", headers=headers).post("/sign-in", WRONG).status_code == 200
    assert Client(REMOTE_ADDR="192.0.2.1").post("/sign-in", WRONG).status_code == 429


def test_serving_behind_a_proxy_that_nobody_counted_is_said() -> None:
    with override_settings(PROXY_HEADER="X-Forwarded-Proto", PROXY_COUNT=0):
        assert "TRAVELLER_PROXIES" in notes()[0]
    with override_settings(PROXY_HEADER="X-Forwarded-Proto", PROXY_COUNT=1):
        assert notes() == []
    with override_settings(PROXY_HEADER=None, PROXY_COUNT=0):
        assert notes() == []
