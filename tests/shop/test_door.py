"""The door: the first run with its one-time code, signing in and out, and who may work here."""

import io
from datetime import timedelta
from decimal import Decimal

import pytest
import time_machine
from axes.models import AccessAttempt
from django.core.management import call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from production.models import Cup
from shop.models import Shop, User
from shop.services import opening_day, people
from tests import factories

pytestmark = pytest.mark.django_db

CODE = "f00dcafe"
PASSWORD = "heron lantern gravel"
ACCOUNT = {"you-username": "wren", "you-password": PASSWORD, "you-password_again": PASSWORD}
FACTS = {
    "shop-name": "Lantern Cove Baits",
    "shop-town": "Millrace, Ohio",
    "shop-units": "us",
    "shop-currency": "usd",
    "shop-time_zone": "America/Chicago",
    "shop-cups": "3",
    "shop-cup_ml": "1½ US cup",
}


@pytest.fixture
def code(data_dir):
    (data_dir / "first_run_code").write_text(CODE)
    return data_dir / "first_run_code"


def _open(client, **changes):
    data = {"code": CODE, "start": "own", **ACCOUNT, **FACTS, **changes}
    return client.post(reverse("welcome"), data)


def test_with_nobody_set_up_every_page_leads_to_the_welcome_page(client, data_dir):
    for name in ("tonight", "books", "sign_in"):
        assert client.get(reverse(name)).headers["Location"] == reverse("welcome")


def test_the_address_alone_grants_nothing(client, code):
    assert client.get(reverse("welcome")).status_code == 403
    assert client.get(reverse("welcome"), {"code": "guess"}).status_code == 403
    assert client.post(reverse("welcome"), {**ACCOUNT, **FACTS, "start": "own"}).status_code == 403
    assert _open(client, code="guess").status_code == 403
    assert not User.objects.exists()


def test_the_code_opens_the_shop_once_and_signs_its_owner_in(client, code):
    assert client.get(reverse("welcome"), {"code": CODE}).status_code == 200
    assert _open(client).headers["Location"] == reverse("tonight")
    shop, owner = Shop.objects.get(), User.objects.get()
    assert (shop.name, shop.currency, shop.time_zone) == (
        "Lantern Cove Baits",
        "USD",
        "America/Chicago",
    )
    assert owner.is_owner and owner.check_password(PASSWORD)
    # A US cup is 236.5882365 mL: half a US pint of 28.875 cubic inches (NIST SP 1038).
    assert list(Cup.objects.values_list("number", "most_ml")) == [
        (number, Decimal("354.882")) for number in (1, 2, 3)
    ]
    assert client.get(reverse("tonight")).status_code == 200
    assert not code.exists()
    assert Client().get(reverse("welcome"), {"code": CODE}).status_code == 404


def test_the_demo_shop_opens_from_the_welcome_page(client, code):
    answer = client.post(reverse("welcome"), {"code": CODE, "start": "demo", **ACCOUNT})
    assert answer.headers["Location"] == reverse("tonight")
    assert Shop.objects.get().demo
    assert User.objects.get(username="wren").is_owner
    page = client.get(reverse("tonight")).content.decode()
    assert "Start tonight" in page and "First steps" not in page


def test_the_demo_never_goes_into_a_shop_that_has_data():
    factories.make_item()
    with pytest.raises(opening_day.AlreadyOpen):
        opening_day.open_demo(username="x", password=PASSWORD)
    assert not User.objects.exists() and not Shop.objects.exists()


def test_ten_wrong_codes_throw_the_code_away_and_the_page_says_how_to_go_on(client, code):
    for _ in range(opening_day.MOST_TRIES - 1):
        answer = client.get(reverse("welcome"), {"code": "guess"})
        assert "After 10 wrong ones" in answer.content.decode()
    assert code.exists()
    answer = client.get(reverse("welcome"), {"code": "guess"})
    assert answer.status_code == 429
    assert "start it again" in answer.content.decode()
    assert not code.exists()
    assert client.get(reverse("welcome"), {"code": CODE}).status_code == 429
    assert "start it again" in client.get(reverse("welcome")).content.decode()
    # A new code, as the server prints one at its next start, has its own ten tries.
    code.write_text("a new one")
    assert client.get(reverse("welcome"), {"code": "guess"}).status_code == 403
    assert client.get(reverse("welcome"), {"code": "a new one"}).status_code == 200


def test_asking_without_a_code_is_no_wrong_try(client, code):
    for _ in range(opening_day.MOST_TRIES + 1):
        client.get(reverse("welcome"))
    assert client.get(reverse("welcome"), {"code": CODE}).status_code == 200


def test_an_empty_code_file_opens_nothing(client, code):
    code.write_text("")
    assert client.get(reverse("welcome"), {"code": ""}).status_code == 403
    assert client.get(reverse("welcome"), {"code": " "}).status_code == 429


@pytest.mark.parametrize(
    ("field", "typed", "reason"),
    [
        ("you-password", "short", "too short"),
        ("you-password_again", "another heron", "differ"),
        ("you-username", "two words", "valid username"),
        ("shop-time_zone", "Mars/Olympus", "valid choice"),
        ("shop-currency", "dollars", "at most 3"),
        ("shop-cups", "-1", "less than zero"),
        ("shop-cup_ml", "NaN", "not an amount"),
        ("shop-cup_ml", "1 lb", "density"),
        ("shop-cup_ml", "900 gal", "between 1 mL and 20 L"),
        ("shop-name", "", "required"),
    ],
)
def test_a_form_that_makes_no_sense_keeps_the_code(client, code, field, typed, reason):
    answer = _open(client, **{field: typed})
    assert answer.status_code == 422
    assert reason in answer.content.decode()
    assert not User.objects.exists() and not Shop.objects.exists()
    assert code.exists()


def test_a_second_opening_is_refused_and_leaves_no_account():
    factories.make_shop()
    facts = {"town": "", "units": "us", "currency": "USD", "time_zone": "UTC"}
    with pytest.raises(opening_day.AlreadyOpen):
        opening_day.open_shop(
            name="Another", **facts, cups=1, cup_ml=Decimal(300), username="x", password=PASSWORD
        )
    assert not User.objects.exists() and not Cup.objects.exists()


@pytest.fixture
def marlow(shop, settings):
    # The real hash is slow on purpose, and these tests guess a lot.
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    return User.objects.create_user("marlow", password=PASSWORD, role=User.Role.OWNER)


def _sign_in(client, password=PASSWORD, *, username="marlow", next="", **environ):
    typed = {"username": username, "password": password, "next": next}
    return client.post(reverse("sign_in"), typed, **environ)


def test_signing_in_leads_back_to_the_page_one_wanted(client, marlow):
    wanted = client.get(reverse("books")).headers["Location"]
    assert wanted == f"{reverse('sign_in')}?next={reverse('books')}"
    answer = _sign_in(client, next=reverse("books"))
    assert answer.headers["Location"] == reverse("books")


def test_signing_in_leads_nowhere_outside(client, marlow):
    answer = _sign_in(client, next="https://elsewhere.example/")
    assert answer.headers["Location"] == reverse("tonight")


def test_a_wrong_password_is_said(client, marlow):
    answer = _sign_in(client, "wrong")
    assert answer.status_code == 422
    assert b"error-summary" in answer.content


def test_guessing_passwords_is_stopped_and_the_page_says_for_how_long(client, marlow, settings):
    with time_machine.travel("2026-03-02T20:00:00Z", tick=False) as clock:
        for _ in range(settings.AXES_FAILURE_LIMIT):
            answer = _sign_in(client, "wrong")
        assert answer.status_code == 429
        assert answer.headers["Retry-After"] == "900"
        clock.shift(timedelta(minutes=5))
        answer = _sign_in(client)
        assert answer.status_code == 429
        assert "Try again in 10 minutes." in answer.content.decode()
        # Trying on does not make the wait longer.
        clock.shift(timedelta(minutes=10, seconds=1))
        assert _sign_in(client).status_code == 302


def test_one_persons_slips_lock_nobody_else_at_the_same_address(client, marlow, settings):
    User.objects.create_user("tobin", password=PASSWORD)
    for _ in range(settings.AXES_FAILURE_LIMIT):
        _sign_in(client, "wrong")
    assert _sign_in(client, username="tobin").status_code == 302
    # Nor does tobin's success make anybody forget the tries for marlow.
    assert _sign_in(Client()).status_code == 429


def test_the_right_password_wipes_out_the_slips(client, marlow, settings):
    for _ in range(settings.AXES_FAILURE_LIMIT - 1):
        _sign_in(client, "wrong")
    _sign_in(client)
    assert _sign_in(Client(), "wrong").status_code == 422


def test_guessing_one_name_from_many_addresses_is_stopped(client, marlow, settings):
    # 203.0.113.0/24 is set aside for documentation (RFC 5737).
    most = settings.AXES_FAILURE_LIMIT * 5
    addresses = [f"203.0.113.{number}" for number in range(most)]
    with time_machine.travel("2026-03-02T20:00:00Z", tick=False) as clock:
        _note_tries("marlow", addresses[1:])
        assert _sign_in(client, "wrong", REMOTE_ADDR=addresses[0]).status_code == 429
        assert _sign_in(client, REMOTE_ADDR="203.0.113.200").status_code == 429
        clock.shift(timedelta(minutes=15, seconds=1))
        assert _sign_in(client, REMOTE_ADDR="203.0.113.200").status_code == 302


def test_guessing_many_names_from_one_address_is_stopped_for_a_while(client, marlow, settings):
    most = settings.AXES_FAILURE_LIMIT * 5
    with time_machine.travel("2026-03-02T20:00:00Z", tick=False) as clock:
        for number in range(most):
            _note_tries(f"name {number}", ["203.0.113.7"])
        assert _sign_in(client, REMOTE_ADDR="203.0.113.7").status_code == 429
        assert _sign_in(Client(), REMOTE_ADDR="203.0.113.8").status_code == 302
        clock.shift(timedelta(minutes=15, seconds=1))
        assert _sign_in(client, REMOTE_ADDR="203.0.113.7").status_code == 302


def _note_tries(name, addresses):
    """Wrong passwords as axes notes them, without reckoning a slow hash for each."""
    for address in addresses:
        AccessAttempt.objects.create(
            username=name,
            ip_address=address,
            failures_since_start=1,
            attempt_time=timezone.now(),
        )


def test_the_wait_can_be_ended_at_the_computer_that_runs_the_shop(client, marlow, settings):
    _note_tries("marlow", ["127.0.0.1"])
    AccessAttempt.objects.update(failures_since_start=settings.AXES_FAILURE_LIMIT)
    assert _sign_in(client).status_code == 429
    call_command("axes_reset", stdout=io.StringIO())
    assert _sign_in(client).status_code == 302


def test_signing_out_takes_a_post(client, marlow):
    _sign_in(client)
    assert client.get(reverse("sign_out")).status_code == 405
    assert client.get(reverse("tonight")).status_code == 200
    assert client.post(reverse("sign_out")).headers["Location"] == reverse("sign_in")
    assert client.get(reverse("tonight")).status_code == 302


def test_a_closed_account_is_out_at_once(client, marlow, owner):
    _sign_in(client)
    people.change(marlow, role="owner", active=False)
    assert client.get(reverse("tonight")).status_code == 302
    assert _sign_in(client).status_code == 422


def test_the_shop_never_loses_its_last_owner(marlow, helper):
    for change in ({"role": "helper", "active": True}, {"role": "owner", "active": False}):
        with pytest.raises(people.PeopleError, match="needs an owner"):
            people.change(marlow, **change)
    people.change(helper, role="owner", active=True)
    people.change(marlow, role="helper", active=True)
    assert User.objects.get(pk=marlow.pk).role == "helper"


def test_nobody_closes_their_own_account(marlow, owner):
    with pytest.raises(people.PeopleError, match="your own account"):
        people.change(marlow, role="owner", active=False, by=marlow)
