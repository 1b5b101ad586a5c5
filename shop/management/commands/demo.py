"""`manage.py demo`: fills an empty database with the invented demo shop."""

import secrets

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser

from shop.demo import build
from shop.models import User
from shop.services import opening_day


class Command(BaseCommand):
    help = "Load the invented demo shop into an empty database. Never touches a shop that has data."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--owner", default="wren", help="name to sign in with (%(default)s)")
        parser.add_argument("--password", help="a random one by default, printed once")

    def handle(self, *args, owner: str, password: str | None, **options) -> None:
        chosen = password or secrets.token_hex(6)
        try:
            User._meta.get_field("username").clean(owner, None)
            opening_day.open_demo(username=owner, password=chosen)
        except ValidationError as error:
            raise CommandError(f"--owner: {' '.join(error.messages)}") from error
        except (opening_day.AlreadyOpen, build.NotEmpty) as error:
            raise CommandError(f"No demo: {error} Nothing was changed.") from error
        said = "the password given" if password else f"the password {chosen}"
        self.stdout.write(f"The demo shop is open. Sign in as {owner} with {said}.")
