"""The shop's logo, as its papers show it."""

from django.contrib.auth.models import AbstractBaseUser
from django.core.files.base import File
from django.db import transaction

from inventory.services import files
from shop.models import Shop


@transaction.atomic
def set_logo(*, file: File, by: AbstractBaseUser | None) -> Shop:
    """Keeps a picture as the shop's logo, in place of the one it had. Raises ValidationError at `file`."""
    shop = Shop.objects.select_for_update(of=("self",)).select_related("logo").get()
    old = shop.logo
    shop.logo = files.take_in_picture(file, name=f"Logo of {shop.name}", by=by)
    shop.save(update_fields=["logo"])
    if old:
        files.forget(old)
    return shop


@transaction.atomic
def remove_logo() -> None:
    """The papers then show the shop's name alone."""
    shop = Shop.objects.select_for_update(of=("self",)).select_related("logo").get()
    old, shop.logo = shop.logo, None
    shop.save(update_fields=["logo"])
    if old:
        files.forget(old)
