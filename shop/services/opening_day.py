"""The first run: the one-time code that lets the owner in, and opening the shop."""

import hmac
from decimal import Decimal
from pathlib import Path

from django.conf import settings
from django.db import transaction

from production.models import Cup
from shop.models import Shop, User

#: Wrong codes before the code is thrown away; starting the server again prints a new one.
MOST_TRIES = 10


class AlreadyOpen(Exception):
    """The shop has an owner, or data of its own."""


def set_up_already() -> bool:
    return User.objects.exists()


def code_is_there() -> bool:
    """Whether the server printed a code that still counts."""
    return bool(_code())


def code_opens(given: str) -> bool:
    """Whether this is the code that the server printed. A wrong one counts as a try.

    The last wrong try deletes the code."""
    code = _code()
    if not code:
        return False
    if hmac.compare_digest(code.encode(), given.encode()):
        return True
    # One byte a try: appending is atomic, so that tries sent at once all count.
    with _tries_file().open("ab") as tries:
        tries.write(b"x")
        spent = tries.tell() >= MOST_TRIES
    if spent:
        forget_code()
    return False


def forget_code() -> None:
    for file in (_code_file(), _tries_file()):
        file.unlink(missing_ok=True)


@transaction.atomic
def open_shop(
    *,
    name: str,
    town: str,
    units: str,
    currency: str,
    time_zone: str,
    cups: int,
    cup_ml: Decimal,
    username: str,
    password: str,
) -> User:
    """Makes the shop, its numbered cups and the owner's account; returns the owner.

    `cup_ml`: the largest fill of each cup in mL. Raises AlreadyOpen when there is a shop."""
    # The row comes first: of two people opening at once, the second one waits here and fails.
    shop, new = Shop.objects.get_or_create(
        id=1,
        defaults={
            "name": name,
            "town": town,
            "units": units,
            "currency": currency,
            "time_zone": time_zone,
        },
    )
    if not new or set_up_already():
        raise AlreadyOpen(f"{shop} is open already.")
    Cup.objects.bulk_create(
        Cup(number=number, least_ml=min(Decimal(30), cup_ml), most_ml=cup_ml)
        for number in range(1, cups + 1)
    )
    return _make_owner(username, password)


@transaction.atomic
def open_demo(*, username: str, password: str, years: float = 0, scale: int = 1) -> User:
    """Makes the owner's account and fills the shop with the invented one; returns the owner.

    years: a history of so many years instead of the small demo's two months; scale: of so many benches."""
    from shop.demo import build
    from shop.demo.years import story

    if set_up_already() or Shop.objects.exists():
        raise AlreadyOpen("The shop is open already.")
    owner = _make_owner(username, password)
    try:
        if years:
            story.load(owner=owner, years=years, scale=scale)
        else:
            build.load(owner=owner)
    except build.NotEmpty as error:
        raise AlreadyOpen(str(error)) from error
    return owner


def _make_owner(username: str, password: str) -> User:
    return User.objects.create_user(username=username, password=password, role=User.Role.OWNER)


def _code() -> str:
    try:
        return _code_file().read_text(encoding="ascii").strip()
    except (OSError, UnicodeDecodeError):
        return ""


def _code_file() -> Path:
    return settings.DATA_DIR / "first_run_code"


def _tries_file() -> Path:
    return settings.DATA_DIR / "first_run_tries"
