"""Forms that take in a file. What is in it is looked at by services/files.py."""

from django import forms

from inventory import uploaded
from inventory.forms_base import PlainForm
from inventory.models import ItemFile
from inventory.services import files

PICTURES = "image/jpeg,image/png,image/webp"


class UploadField(forms.FileField):
    """A file whose size and first bytes are right. Whether it is whole, taking it in will tell."""

    def __init__(self, *, accept: str, **kwargs) -> None:
        # No `capture`: a phone then offers its camera, its pictures and its files.
        super().__init__(widget=forms.FileInput(attrs={"accept": accept}), **kwargs)
        self.error_messages["empty"] = "The file is empty. Open it once to see, and choose again."

    def clean(self, data, initial=None):
        file = super().clean(data, initial)
        if not data:
            return file
        try:
            files.kind_of(file)
        except uploaded.FileRefused as error:
            raise forms.ValidationError(str(error)) from error
        return file


def _most(kind: str) -> str:
    return f"{uploaded.MOST_BYTES[kind] // 1_000_000} MB"


class ItemFileForm(PlainForm):
    kind = forms.ChoiceField(
        label="What it is",
        choices=ItemFile.Kind.choices,
        initial=ItemFile.Kind.DATA_SHEET,
        widget=forms.RadioSelect,
    )
    file = UploadField(
        accept=f"{uploaded.PDF},{PICTURES}",
        help_text=f"A PDF of at most {_most('pdf')}, or a photo (JPEG, PNG, WebP) of at most "
        f"{_most('picture')}. A photo is kept smaller, without the place and time it was taken.",
    )
    name = forms.CharField(
        max_length=120,
        required=False,
        help_text="Read beside it, and aloud to who can't see it: label of the bottle, "
        "data sheet of March 2025.",
    )


class PictureForm(PlainForm):
    file = UploadField(
        label="Picture",
        accept=PICTURES,
        help_text=f"JPEG, PNG or WebP, at most {_most('picture')}. It is kept smaller, without the "
        "place and time it was taken.",
    )
    name = forms.CharField(
        label="What it shows",
        max_length=120,
        required=False,
        help_text="Read beside it, and aloud to who can't see it: the sprue side, the worn gate.",
    )
