"""`manage.py demo`: fills an empty database with the invented demo shop."""

import secrets

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser

from shop.demo import build
from shop.models import User
from shop.services import opening_day

MOST_YEARS, MOST_SCALE = 40, 20


class Command(BaseCommand):
    help = "Load the invented demo shop into an empty database. Never touches a shop that has data."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--owner", default="wren", help="name to sign in with (%(default)s)")
        parser.add_argument("--password", help="a random one by default, printed once")
        parser.add_argument(
            "--years",
            type=float,
            default=0,
            help="a history of so many years instead of two months; ten take some minutes",
        )
        parser.add_argument(
            "--scale", type=int, default=1, help="with --years: so many benches (%(default)s)"
        )

    def handle(
        self, *args, owner: str, password: str | None, years: float, scale: int, **options
    ) -> None:
        chosen = password or secrets.token_hex(6)
        _refuse_unlikely(years, scale)
        try:
            User._meta.get_field("username").clean(owner, None)
            opening_day.open_demo(username=owner, password=chosen, years=years, scale=scale)
        except ValidationError as error:
            raise CommandError(f"--owner: {' '.join(error.messages)}") from error
        except (opening_day.AlreadyOpen, build.NotEmpty) as error:
            raise CommandError(f"No demo: {error} Nothing was changed.") from error
        said = "the password given" if password else f"the password {chosen}"
        self.stdout.write(f"The demo shop is open. Sign in as {owner} with {said}.")


def _refuse_unlikely(years: float, scale: int) -> None:
    if not 0 <= years <= MOST_YEARS:
        raise CommandError(f"--years: give a number from 0 to {MOST_YEARS}. Nothing was changed.")
    if not 1 <= scale <= MOST_SCALE:
        raise CommandError(f"--scale: give a whole number from 1 to {MOST_SCALE}.")
    if scale > 1 and not years:
        raise CommandError("--scale goes with --years: how many years are to be told?")
