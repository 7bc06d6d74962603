"""The door: signing in, opening a pass, tapping a name, and what a scanned code shows to whom."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.core import signing
from django.test import Client
from django.utils import timezone

from sites.models import DoorTry, PassKind, Person, SitePass
from sites.passes import TRIES_MAX, TRIES_WINDOW_MINUTES, hash_token
from tests import cast, factory
from tests.globe import make_globe
from traveller.rules.codes import from_number, show_code
from traveller.web.door_views import LINK_SALT, plain_token, sign_in_link
from traveller.web.person_cookie import PERSON_COOKIE
from traveller.web.who import PASS_COOKIE

pytestmark = pytest.mark.django_db


def signed_in(client: Client) -> bool:
    return "_auth_user_id" in client.session


def test_the_founder_signs_in_by_name_and_password_and_out_again() -> None:
    cast.make_founder()
    client = Client()
    assert client.get("/sign-in").status_code == 200
    answer = client.post("/sign-in", {"username": cast.FOUNDER, "password": cast.PASSWORD})
    assert (answer.status_code, answer["Location"], signed_in(client)) == (302, "/", True)
    assert client.get("/sign-out").status_code == 405
    assert client.post("/sign-out")["Location"] == "/sign-in"
    assert not signed_in(client)


def test_a_wrong_password_keeps_the_name_and_says_what_does_not_fit() -> None:
    cast.make_founder()
    answer = Client().post("/sign-in", {"username": cast.FOUNDER, "password": "wrong"})
    assert "do not go together" in answer.content.decode()
    assert f'value="{cast.FOUNDER}"' in answer.content.decode()


def test_after_ten_wrong_passwords_even_the_right_one_waits_a_quarter_of_an_hour() -> None:
    cast.make_founder()
    client = Client()
    for _ in range(TRIES_MAX):
        assert client.post("/sign-in", {"username": cast.FOUNDER, "password": "wrong"}).status_code == 200
    right = {"username": cast.FOUNDER, "password": cast.PASSWORD}
    answer = client.post("/sign-in", right)
    assert answer.status_code == 429 and "Too many tries" in answer.content.decode()
    elsewhere = Client(REMOTE_ADDR="198.51.100.7").post("/sign-in", right)
    assert elsewhere.status_code == 302, "another address is not locked out"
    DoorTry.objects.update(tried_at=timezone.now() - timedelta(minutes=TRIES_WINDOW_MINUTES, seconds=1))
    assert client.post("/sign-in", right).status_code == 302


def test_the_address_of_a_try_is_kept_only_as_a_digest() -> None:
    cast.make_founder()
    Client(REMOTE_ADDR="198.51.100.7").post("/sign-in", {"username": "x", "password": "y"})
    assert DoorTry.objects.get().address_hash == hash_token("198.51.100.7")


@pytest.mark.parametrize("target", ["https://evil.example/", "//evil.example/", "/\\evil.example", "javascript:1"])
def test_after_signing_in_one_never_leaves_the_site(target: str) -> None:
    cast.make_founder()
    answer = Client().post("/sign-in", {"username": cast.FOUNDER, "password": cast.PASSWORD, "next": target})
    assert answer["Location"] == "/"


def test_after_signing_in_one_is_where_one_wanted_to_go() -> None:
    cast.make_founder()
    reported = {"username": cast.FOUNDER, "password": cast.PASSWORD, "next": "/find?code=7K3"}
    assert Client().post("/sign-in", reported)["Location"] == "/find?code=7K3"


def test_a_sign_in_link_asks_first_and_works_once() -> None:
    link = sign_in_link(cast.make_founder())
    client = Client()
    assert "signs you in as mara, once" in client.get(link).content.decode()
    assert not signed_in(client), "a preview by a chat program must not use the link up"
    assert client.post(link)["Location"] == "/" and signed_in(client)
    for again in (Client().get(link), Client().post(link)):
        assert again.status_code == 410 and "no longer works" in again.content.decode()


def test_a_sign_in_link_is_refused_after_a_day(monkeypatch: pytest.MonkeyPatch) -> None:
    link = sign_in_link(cast.make_founder())
    now = timezone.now().timestamp()
    monkeypatch.setattr("django.core.signing.time.time", lambda: now + 23 * 3600)
    assert Client().get(link).status_code == 200
    monkeypatch.setattr("django.core.signing.time.time", lambda: now + 24 * 3600 + 60)
    client = Client()
    assert client.post(link).status_code == 410 and not signed_in(client)


def test_a_sign_in_link_that_was_tampered_with_is_refused_and_counts_as_a_try() -> None:
    user = cast.make_founder()
    forged = signing.dumps([user.pk, str(user.last_login)], key="another key", salt=LINK_SALT)
    assert Client().post(f"/sign-in/{forged}").status_code == 410
    assert DoorTry.objects.count() == 1
    for _ in range(TRIES_MAX - 1):
        Client().get("/sign-in/nonsense")
    assert Client().get("/sign-in/nonsense").status_code == 429


def test_a_link_for_somebody_switched_off_is_refused() -> None:
    user = cast.make_founder()
    link = sign_in_link(user)
    user.is_active = False
    user.save()
    assert Client().post(link).status_code == 410


def test_opening_a_pass_asks_first_then_makes_the_phone_part_of_the_site() -> None:
    site = factory.make_site("moulder", name="Kolm Moulding")
    row, token = cast.make_pass(site)
    client = Client()
    asked = client.get(f"/pass/{token}")
    assert "makes this phone part of Kolm Moulding" in asked.content.decode()
    assert PASS_COOKIE not in client.cookies
    row.refresh_from_db()
    assert row.last_seen_at is None, "to look at the link is not to use it"
    opened = client.post(f"/pass/{token}", {"open": "1"})
    assert opened["Location"] == "/here/"
    assert client.cookies[PASS_COOKIE]["httponly"] and client.cookies[PASS_COOKIE]["samesite"] == "Lax"
    assert client.get("/here/")["Location"] == "/person?next=/here/"


def test_a_packing_pass_leads_to_the_packers_page() -> None:
    _row, token = cast.make_pass(factory.make_bench(), PassKind.PACKING)
    assert Client().post(f"/pass/{token}", {"open": "1"})["Location"] == "/pack/"


def test_a_pass_is_kept_only_as_a_digest() -> None:
    row, token = cast.make_pass(factory.make_site())
    assert row.token_hash == hash_token(token)
    texts = [str(value) for fields in SitePass.objects.values() for value in fields.values()]
    assert not [text for text in texts if token in text]


def test_a_typed_pass_is_forgiven_its_case_its_hyphens_and_look_alikes() -> None:
    row, _token = cast.make_pass(factory.make_site())
    SitePass.objects.filter(pk=row.pk).update(token_hash=hash_token("01V7K3M9Q2HV0TBR"))
    for typed in (
        "01V7K3M9Q2HV0TBR",
        "oiu7-k3m9-q2hv-otbr",
        " OLV7 K3M9 Q2HV 0TBR ",
        "https://trace.example/pass/01V7K3M9Q2HV0TBR",
        "http://trace.example/pass/01v7k3m9q2hv0tbr/",
    ):
        answer = Client().post("/pass", {"code": typed})
        assert "Use this phone here" in answer.content.decode(), typed
    assert plain_token("oil-u") == "011V"


def test_a_wrong_pass_is_told_in_words_and_the_tries_are_limited() -> None:
    factory.make_site()
    client = Client()
    for _ in range(TRIES_MAX):
        answer = client.post("/pass", {"code": "NOT A PASS"})
        assert answer.status_code == 404 and "not known here" in answer.content.decode()
    for answer in (client.post("/pass", {"code": "NOT A PASS"}), client.get("/pass/NOTAPASS")):
        assert answer.status_code == 429 and "Too many tries" in answer.content.decode()
    assert client.get("/sign-in").status_code == 200, "the founder's door has its own count"


def test_an_empty_and_an_endless_pass_are_told_in_words() -> None:
    for typed in ("", "A" * 301):
        answer = Client().post("/pass", {"code": typed})
        assert answer.status_code == 422 and "sixteen characters" in answer.content.decode()
    assert not DoorTry.objects.exists(), "nothing was tried"


def test_a_revoked_pass_is_a_stranger_at_once() -> None:
    site = factory.make_site()
    client = cast.pass_client(site)
    assert client.get("/person").status_code == 200
    SitePass.objects.update(revoked_at=timezone.now())
    assert client.get("/here/").status_code == 404
    assert client.get("/person").status_code == 404
    assert client.get("/here/", headers={"accept": "application/json"}).status_code == 401


def test_a_pass_that_lay_idle_too_long_is_a_stranger() -> None:
    site = factory.make_site()
    now = timezone.now()
    row, token = cast.make_pass(site, at=now - timedelta(days=61))
    client = Client()
    client.cookies[PASS_COOKIE] = token
    assert client.get("/person").status_code == 404
    assert client.get(f"/pass/{token}").status_code == 404
    SitePass.objects.filter(pk=row.pk).update(last_seen_at=now - timedelta(days=59))
    assert client.get("/person").status_code == 200
    row.refresh_from_db()
    assert row.last_seen_at is not None and row.last_seen_at >= now, "being used keeps it alive"


def test_a_phone_forgets_its_person_when_it_opens_another_shops_pass() -> None:
    client = cast.pass_client(factory.make_site("moulder"), person="Ines")
    _row, token = cast.make_pass(factory.make_site("printer"))
    client.post(f"/pass/{token}", {"open": "1"})
    assert client.get("/here/")["Location"].startswith("/person")


def test_a_person_is_tapped_and_kept_for_the_shift() -> None:
    site = factory.make_site()
    Person.objects.create(site=site, name="Ines Roth", initials="IR")
    Person.objects.create(site=factory.make_site("rival"), name="Bruno", initials="BR")
    client = cast.pass_client(site, person="")
    page = client.get("/person?next=/here/").content.decode()
    assert "Ines Roth" in page and "Bruno" not in page
    answer = client.post("/person", {"name": "Ines Roth", "next": "/here/t/7K3"})
    assert answer["Location"] == "/here/t/7K3"
    kept = client.cookies[PERSON_COOKIE]
    assert kept["max-age"] == 16 * 3600 and kept["httponly"]


def test_a_name_of_another_shop_cannot_be_tapped() -> None:
    site = factory.make_site()
    Person.objects.create(site=factory.make_site("rival"), name="Bruno", initials="BR")
    client = cast.pass_client(site, person="")
    answer = client.post("/person", {"name": "Bruno", "next": "/here/scan"})
    assert answer.status_code == 422 and PERSON_COOKIE not in client.cookies
    assert 'value="/here/scan"' in answer.content.decode(), "where one wanted to go is not lost"


def test_someone_new_types_a_name_once() -> None:
    site = factory.make_site()
    client = cast.pass_client(site, person="")
    assert client.post("/person", {"new_name": "  Ana  María Vidal "})["Location"] == "/here/"
    assert client.post("/person", {"new_name": "ana maría vidal"})["Location"] == "/here/"
    person = Person.objects.get(site=site)
    assert (person.name, person.initials) == ("Ana María Vidal", "AMV")


@pytest.mark.parametrize("typed", ["", "   ", "\0", "\x07\x1b"])
def test_a_name_of_nothing_is_no_name(typed: str) -> None:
    client = cast.pass_client(factory.make_site(), person="")
    assert client.post("/person", {"new_name": typed}).status_code == 422
    assert not Person.objects.exists()


@pytest.mark.parametrize(
    "target", ["https://evil.example/", "//evil.example", "/\\evil.example", "/\t/evil.example", "evil", "javascript:1"]
)
def test_after_tapping_a_name_one_never_leaves_the_site(target: str) -> None:
    client = cast.pass_client(factory.make_site())
    assert client.post("/person", {"name": "Ines", "next": target})["Location"] == "/here/"


def test_a_forged_name_is_nobody() -> None:
    client = cast.pass_client(factory.make_site(), person="")
    client.cookies[PERSON_COOKIE] = "Mara:forged:signature"
    assert client.get("/here/")["Location"].startswith("/person")


def test_leaving_takes_the_pass_off_the_phone() -> None:
    client = cast.pass_client(factory.make_site())
    assert client.get("/pass-off").status_code == 405
    client.post("/pass-off")
    assert client.get("/person").status_code == 404


def test_without_a_pass_a_real_code_and_an_invented_one_show_the_same_page() -> None:
    real = make_globe().batch.code
    invented = str(from_number(123_456_789))
    pages = {
        Client().get(f"/t/{tail}").content
        for code in (real, invented, show_code(real), "nonsense", "%F0%9F%8F%AE", "A%20B")
        for tail in (code, f"{code}/30")
    }
    assert len(pages) == 1
    page = pages.pop().decode()
    assert "Open a site pass" in page and real not in page and invented not in page


def test_without_a_pass_the_answers_differ_in_no_header_either() -> None:
    real = make_globe().batch.code
    answers = [Client().get(f"/t/{code}") for code in (real, str(from_number(5)))]
    first, second = (sorted(answer.headers.items()) for answer in answers)
    assert first == second and not any(answer.cookies for answer in answers)


def test_a_scanned_code_leads_a_pass_to_its_own_pages_and_the_founder_to_the_find() -> None:
    people = cast.make_cast()
    for path, name, to in (
        ("/t/7K3M9Q4", "operator", "/here/t/7K3M9Q4"),
        ("/t/7K3M9Q4/30", "operator", "/here/t/7K3M9Q4/30"),
        ("/t/7K3M9Q4", "packer", "/pack/t/7K3M9Q4"),
        ("/t/7K3M9Q4/30", "packer", "/pack/t/7K3M9Q4/30"),
        ("/t/7K3M9Q4", "founder", "/find?code=7K3M9Q4"),
        ("/t/7K3M9Q4/30", "founder", "/find?code=7K3M9Q4"),
    ):
        assert people.everyone()[name].get(path)["Location"] == to
    assert b"Open a site pass" in people.revoked.get("/t/7K3M9Q4").content


def test_a_strange_scan_stays_one_piece_of_the_next_address() -> None:
    people = cast.make_cast()
    assert people.operator.get("/t/A%3Fb%26c%23d")["Location"] == "/here/t/A%3Fb%26c%23d"
    assert people.founder.get("/t/A%26next=x")["Location"] == "/find?code=A%26next%3Dx"
