"""The forms of taking over orders from a file."""

from collections.abc import Mapping, Sequence

from django import forms
from django.core.exceptions import ValidationError

from inventory.exchange import files
from inventory.forms_base import PlainForm
from shop import order_import
from shop.models import OrderMapping
from shop.order_import import Heading
from shop.services.order_import import SKIP, Unknown

MOST_PASTED = 500_000
NOTHING = ""


class FileForm(PlainForm):
    """A file or pasted lines, and how such a file was read before."""

    file = forms.FileField(
        label="CSV or XLSX file",
        required=False,
        help_text=f"At most {files.MOST_BYTES // 1_000_000} MB and {files.MOST_ROWS:,} lines.",
        widget=forms.FileInput(attrs={"accept": ".csv,.tsv,.txt,.xlsx,text/csv"}),
        error_messages={"empty": "The file is empty."},
    )
    paste = forms.CharField(
        label="Or paste its lines",
        required=False,
        max_length=MOST_PASTED,
        strip=False,
        widget=forms.Textarea(attrs={"rows": 5}),
        help_text="With the line of column names first.",
    )
    mapping = forms.ModelChoiceField(
        OrderMapping.objects.all(),
        label="Where it comes from",
        required=False,
        empty_label="Somewhere new",
        help_text="A place whose files were read before: its columns are known.",
    )

    def clean_file(self):
        file = self.cleaned_data["file"]
        if file and file.size > files.MOST_BYTES:
            raise ValidationError(files.too_large())
        return file

    def clean(self) -> dict:
        typed = super().clean()
        pasted = bool((typed.get("paste") or "").strip())
        if not self.errors and bool(typed.get("file")) == pasted:
            said = (
                "Either a file or pasted lines, not both."
                if pasted
                else "Choose a file, or paste lines."
            )
            self.add_error("file", said)
        return typed

    def content(self) -> bytes:
        file = self.cleaned_data["file"]
        return file.read() if file else self.cleaned_data["paste"].encode()


class MappingForm(PlainForm):
    """What each column of the file means."""

    name = forms.CharField(
        label="Where these orders come from",
        max_length=60,
        help_text="Your own word for it: web shop, club list. The columns are remembered under it.",
    )

    def __init__(self, *args, headings: Sequence[Heading], **kwargs) -> None:
        super().__init__(*args, **kwargs)
        self.headings = headings
        choices = [(NOTHING, "leave out")]
        choices += [
            (column.name, f"{column.name}{' (needed)' if column.needed else ''}")
            for column in order_import.COLUMNS
        ]
        for place, heading in enumerate(headings):
            self.fields[f"column-{place}"] = forms.ChoiceField(
                label=heading.name,
                required=False,
                choices=choices,
                help_text=f"In the file: {'; '.join(heading.samples)}"
                if heading.samples
                else "Empty.",
            )

    @classmethod
    def start(cls, headings: Sequence[Heading], mapping: Mapping[str, str]) -> dict[str, str]:
        """The form's values for a mapping of meanings to headings."""
        meanings = {heading: meaning for meaning, heading in mapping.items()}
        return {
            f"column-{place}": meanings[heading.name]
            for place, heading in enumerate(headings)
            if heading.name in meanings
        }

    def clean(self) -> dict:
        typed = super().clean()
        seen: dict[str, str] = {}
        for place, heading in enumerate(self.headings):
            meaning = typed.get(f"column-{place}")
            if meaning and meaning in seen:
                self.add_error(
                    f"column-{place}", f"“{seen[meaning]}” is the {meaning} already. Choose once."
                )
            elif meaning:
                seen[meaning] = heading.name
        missing = [meaning for meaning in order_import.NEEDED if meaning not in seen]
        if missing and not self.errors:
            self.add_error(None, f"Which column is the {missing[0]}? Choose it below.")
        return typed

    def mapping(self) -> dict[str, str]:
        """Meaning → heading; call it once the form is clean."""
        return {
            meaning: heading.name
            for place, heading in enumerate(self.headings)
            if (meaning := self.cleaned_data[f"column-{place}"])
        }


class ProductsForm(PlainForm):
    """Which product each unknown text means."""

    def __init__(
        self, *args, unknown: Sequence[Unknown], products: Sequence[tuple[int, str]], **kwargs
    ) -> None:
        super().__init__(*args, **kwargs)
        self.unknown = unknown
        for place, each in enumerate(unknown):
            offered = [(known.key, known.name) for known in each.offered]
            likely = [(each.likely.key, each.likely.name)] if each.likely else []
            near = dict([*likely, *offered])
            rest = [(key, name) for key, name in products if key not in near]
            choices: list = [("", "Choose…")]
            if near:
                choices.append(("Fits what is written", list(near.items())))
            choices += [("All products", rest), (SKIP, "No product of ours: leave these lines out")]
            lines = ", ".join(str(line) for line in each.lines[:8])
            more = " and more" if len(each.lines) > 8 else ""
            self.fields[f"product-{place}"] = forms.TypedChoiceField(
                label=each.text,
                choices=choices,
                coerce=int,
                initial=each.likely.key if each.likely else None,
                help_text=f"Line{'s' if len(each.lines) > 1 else ''} {lines}{more}.",
            )

    def answers(self) -> dict[str, int]:
        return {
            each.text: self.cleaned_data[f"product-{place}"]
            for place, each in enumerate(self.unknown)
        }
