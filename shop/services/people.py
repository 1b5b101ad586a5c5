"""Who works in the shop: adding people, changing what they may do, closing their account."""

from django.contrib.auth.models import AnonymousUser
from django.db import transaction

from shop.models import User


class PeopleError(Exception):
    """A change to a person's account was refused; the text says why."""


def add(*, username: str, password: str, role: str) -> User:
    """A new account. The password was validated by the form."""
    return User.objects.create_user(username=username, password=password, role=role)


@transaction.atomic
def change(
    person: User,
    *,
    role: str,
    active: bool,
    password: str = "",
    by: User | AnonymousUser | None = None,
) -> User:
    """New role, open or closed, and, when given, a new password.

    Raises PeopleError when it would leave the shop without an owner, or close the asker's account."""
    owners = User.objects.select_for_update().filter(role=User.Role.OWNER, is_active=True)
    others = [owner for owner in owners.order_by("pk") if owner.pk != person.pk]
    if not others and not (active and role == User.Role.OWNER):
        raise PeopleError("The shop needs an owner who can sign in. Make someone else owner first.")
    if by is not None and by.pk == person.pk and not active:
        raise PeopleError("You can't close your own account. Ask another owner to do it.")
    person.role, person.is_active = role, active
    columns = ["role", "is_active"]
    if password:
        person.set_password(password)
        columns.append("password")
    person.save(update_fields=columns)
    return person
