"""Keeping pictures of molds."""

from django.contrib.auth.models import AbstractBaseUser
from django.core.files.base import File
from django.db import transaction

from inventory.services import files
from production.models import Mold, MoldPicture


@transaction.atomic
def add(*, mold: Mold, file: File, name: str = "", by: AbstractBaseUser | None) -> MoldPicture:
    """Keeps a picture with a mold; `name` is read beside it. Raises ValidationError keyed by field."""
    files.refuse_too_many(MoldPicture.objects.filter(mold=mold).count(), mold.name)
    stored = files.take_in_picture(file, name=name or f"Picture of {mold.name}", by=by)
    return MoldPicture.objects.create(mold=mold, file=stored)


@transaction.atomic
def remove(picture: MoldPicture) -> None:
    """Removes a picture from its mold, from the database and from the disk."""
    picture.delete()
    files.forget(picture.file)
