"""Taking in files: safety data sheets and pictures, kept in the data folder and named in the database.

A file lies in its place before its row is committed, and goes again if the row isn't; a file whose
row is removed goes after the commit. So a row never names a file that isn't there.
"""

import contextlib
import hashlib
import os
import secrets
import weakref
from collections.abc import Iterable
from pathlib import Path

from django.conf import settings
from django.contrib.auth.models import AbstractBaseUser
from django.core.exceptions import ValidationError
from django.core.files.base import File
from django.db import transaction

from inventory import uploaded
from inventory.models import Item, ItemFile, StoredFile

#: Most files of one item or mold: a page shows all of them.
MOST = 20


@transaction.atomic
def add_item_file(
    *, item: Item, kind: str, file: File, name: str = "", by: AbstractBaseUser | None
) -> ItemFile:
    """Keeps a file with an item; `name` is read beside it. Raises ValidationError keyed by field."""
    refuse_too_many(ItemFile.objects.filter(item=item).count(), item.name)
    if kind == ItemFile.Kind.PICTURE:
        stored = take_in_picture(file, name=name or f"Picture of {item.name}", by=by)
    else:
        stored = take_in(file, name=name or f"Safety data sheet of {item.name}", by=by)
    return ItemFile.objects.create(item=item, kind=kind, file=stored)


@transaction.atomic
def remove_item_file(kept: ItemFile) -> None:
    """Removes a file from its item, from the database and from the disk."""
    kept.delete()
    forget(kept.file)


def refuse_too_many(count: int, of: str) -> None:
    """Raises ValidationError when so many files are kept already."""
    if count >= MOST:
        raise ValidationError(
            {"file": f"{MOST} files are kept with {of} already: remove one of them first."}
        )


@transaction.atomic
def take_in_picture(file: File, *, name: str, by: AbstractBaseUser | None) -> StoredFile:
    """Like `take_in`, for a picture only."""
    stored = take_in(file, name=name, by=by)
    if not stored.is_picture:
        raise ValidationError(
            {"file": "This is a PDF, not a picture. Send a JPEG, PNG or WebP picture."}
        )
    return stored


@transaction.atomic
def take_in(file: File, *, name: str, by: AbstractBaseUser | None) -> StoredFile:
    """Checks a PDF or picture by its content and keeps it: a PDF as it came, a picture drawn anew.

    Raises ValidationError at `file`, with nothing kept, for anything else. What is kept with a thing
    of another app is linked to the row returned, in the same transaction."""
    try:
        is_picture = kind_of(file) == "picture"
        chunks = [uploaded.redraw(file)] if is_picture else file.chunks()
    except uploaded.FileRefused as error:
        raise ValidationError({"file": str(error)}) from error
    content_type = uploaded.JPEG if is_picture else uploaded.PDF
    stored_as = secrets.token_hex(16) + uploaded.ENDINGS[content_type]
    size, sha256 = _write(path_of(stored_as), chunks)
    transaction.on_commit(_KeptOnCommit(path_of(stored_as)))
    return StoredFile.objects.create(
        stored_as=stored_as,
        name=" ".join(name.split())[:120],
        content_type=content_type,
        size=size,
        sha256=sha256,
        by=by,
    )


def forget(stored: StoredFile) -> None:
    """Deletes a file's row, and the file once that is committed. Call it inside a transaction."""
    path = path_of(stored.stored_as)
    stored.delete()
    # Robust: the row is gone by then, so a file that can't be deleted is logged, no more.
    transaction.on_commit(lambda: path.unlink(missing_ok=True), robust=True)


def path_of(stored_as: str) -> Path:
    """Where a file lies on the disk."""
    return Path(settings.FILES_DIR) / stored_as


def kind_of(file: File) -> str:
    """`pdf` or `picture`; raises FileRefused for another content, or too much of it."""
    uploaded.refuse_large(file.size)
    file.seek(0)
    kind = uploaded.what(file.read(16))
    file.seek(0)
    uploaded.refuse_large(file.size, kind)
    return kind


def _write(path: Path, chunks: Iterable[bytes]) -> tuple[int, str]:
    """Writes a private file whole or not at all, down to the disk; its size and SHA-256."""
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    unfinished = path.with_suffix(".part")
    digest, size = hashlib.sha256(), 0
    try:
        with open(unfinished, "xb", opener=_private) as out:
            for chunk in chunks:
                digest.update(chunk)
                size += out.write(chunk)
            out.flush()
            os.fsync(out.fileno())
        os.replace(unfinished, path)
    except BaseException:
        unfinished.unlink(missing_ok=True)
        raise
    _sync_folder(path.parent)
    return size, digest.hexdigest()


def _private(path: str, flags: int) -> int:
    return os.open(path, flags, 0o600)


def _sync_folder(folder: Path) -> None:
    """Brings the new name to the disk as well, where the system can do that."""
    with contextlib.suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


class _KeptOnCommit:
    """Deletes its file unless the transaction commits, however many others it is inside of.

    Django calls what waits for the commit, or drops it on rollback and says nothing; being dropped
    without having been called is what deletes the file."""

    def __init__(self, path: Path) -> None:
        self._undo = weakref.finalize(self, path.unlink, missing_ok=True)

    def __call__(self) -> None:
        self._undo.detach()
