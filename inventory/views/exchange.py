"""Sheets in: upload, answer what can't be guessed, look, confirm. The same steps for every kind of sheet.

Between the steps the table that was read travels in the page, signed; it is read anew at each step.
"""

import io
from dataclasses import dataclass

from django import forms
from django.contrib import messages
from django.core import signing
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from inventory import forms_base
from inventory.exchange import files, notation, table, writing
from inventory.exchange.notation import Notation
from inventory.exchange.table import FileError, Table
from inventory.services import exchange
from inventory.services.exchange import Importing, Review
from inventory.services.posting import KeyReused, LedgerError

_SALT = "exchange"
#: Seconds that a page may be looked at before it is confirmed.
_PATIENCE = 24 * 60 * 60
#: Letters of the signed table; what a request may carry beside files is 3 MB (settings).
_MOST_SIGNED = 2_800_000
_KINDS = {
    "csv": "text/csv; charset=utf-8",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}


@dataclass(frozen=True)
class Page:
    """The words of one kind of sheet, and where its pages lie (URL names).

    `here` names the page itself; its files to start from are `here`_template, …_template_xlsx, …_now
    and …_now_xlsx."""

    importing: Importing
    title: str
    lede: str
    question: str
    here: str
    back: str
    done: str

    @property
    def template_csv(self) -> str:
        return f"{self.here}_template"

    @property
    def template_xlsx(self) -> str:
        return f"{self.here}_template_xlsx"

    @property
    def now_csv(self) -> str:
        return f"{self.here}_now"

    @property
    def now_xlsx(self) -> str:
        return f"{self.here}_now_xlsx"


class UploadForm(forms.Form):
    file = forms.FileField(
        label="CSV or XLSX file",
        help_text=f"At most {files.MOST_BYTES // 1_000_000} MB.",
        widget=forms.FileInput(attrs={"accept": ".csv,.tsv,.txt,.xlsx,text/csv"}),
        error_messages={"empty": "The file is empty.", "required": "Choose a file."},
    )

    def clean_file(self):
        file = self.cleaned_data["file"]
        if file.size > files.MOST_BYTES:
            raise forms.ValidationError(files.too_large())
        return file


class AnswerForm(forms.Form):
    """One choice for each thing that the file writes in a way with two readings."""

    def __init__(self, *args, questions: list[notation.Question], **kwargs) -> None:
        super().__init__(*args, **kwargs)
        for question in questions:
            self.fields[question.name] = forms.ChoiceField(
                label=question.text,
                choices=question.choices,
                widget=forms.RadioSelect,
                help_text="In the file: " + "; ".join(question.samples),
                error_messages={"required": "Choose one: both can be read from the file."},
            )


def exchange_page(request: HttpRequest, page: Page) -> HttpResponse:
    """The page of one kind of sheet, in all its steps."""
    if request.method != "POST":
        return _upload(request, page, UploadForm())
    if "sheet" not in request.POST:
        form = UploadForm(request.POST, request.FILES)
        if not form.is_valid():
            return _upload(request, page, form, status=422)
        try:
            read = files.read(
                form.cleaned_data["file"].read(),
                sheets=[page.importing.sheet],
                most_rows=page.importing.most_rows,
            )
            return _step(request, page, read, _signed(page, read))
        except FileError as error:
            form.add_error("file", str(error))
            return _upload(request, page, form, status=422)
    try:
        read = _opened(page, request.POST["sheet"])
        return _step(request, page, read, request.POST["sheet"])
    except (signing.BadSignature, FileError):
        return _upload(
            request,
            page,
            UploadForm(),
            status=422,
            refused="This page was open for too long, or its file got lost. Choose the file again.",
        )


def _step(request: HttpRequest, page: Page, read: Table, signed: str) -> HttpResponse:
    said = _said(request)
    context = {"page": page, "sheet": signed, "said": said, "notes": read.notes}
    records = table.records(read, page.importing.columns)
    asked = notation.questions(records, page.importing.columns, said, read.separator)
    if asked:
        given = request.POST if "answered" in request.POST else None
        form = AnswerForm(given, questions=asked)
        status = 422 if given is not None else 200
        return render(
            request, "inventory/exchange_ask.html", context | {"form": form}, status=status
        )
    refused = ""
    if "book" in request.POST:
        try:
            return _load(request, page, read, said)
        except LedgerError as error:
            again = (
                " Look at it again to load it as a new one." if isinstance(error, KeyReused) else ""
            )
            refused = f"{error}{again}"
    review = exchange.review(page.importing, read, said)
    if review.troubles:
        return _upload(request, page, UploadForm(), status=422, review=review, refused=refused)
    context |= {"review": review, "key": forms_base.new_key(), "refused": refused}
    status = 422 if refused else 200
    return render(request, "inventory/exchange_preview.html", context, status=status)


def _load(request: HttpRequest, page: Page, read: Table, said: Notation) -> HttpResponse:
    entry = exchange.load(
        page.importing,
        key=request.POST.get("key", "")[:50] or forms_base.new_key(),
        table=read,
        notation=said,
        seen=request.POST.get("seen", ""),
        by=request.user,
    )
    messages.success(request, f"{entry.title}." if entry else "The whole file is in.")
    return redirect("inventory:entry", entry.pk) if entry else redirect(page.done)


def _said(request: HttpRequest) -> Notation:
    given = {
        name: request.POST.get(name, "") for name in ("decimal", "dates") if name in request.POST
    }
    decimal, dates = given.get("decimal", ""), given.get("dates", "")
    return Notation(
        decimal if decimal in (notation.POINT, notation.COMMA) else "",
        dates if dates in (notation.DAY_FIRST, notation.MONTH_FIRST) else "",
    )


def _signed(page: Page, read: Table) -> str:
    signed = signing.dumps(read.plain(), salt=_SALT + page.importing.sheet, compress=True)
    if len(signed) > _MOST_SIGNED:
        raise FileError(files.too_large())
    return signed


def _opened(page: Page, signed: str) -> Table:
    salt = _SALT + page.importing.sheet
    return Table.from_plain(signing.loads(signed, salt=salt, max_age=_PATIENCE))


def _upload(
    request: HttpRequest,
    page: Page,
    form: UploadForm,
    *,
    status: int = 200,
    review: Review | None = None,
    refused: str = "",
) -> HttpResponse:
    context = {"page": page, "form": form, "review": review, "refused": refused}
    return render(request, "inventory/exchange.html", context, status=status)


# --- Files to start from, and as things stand ---------------------------------


def template_file(page: Page, form: str) -> HttpResponse:
    """The empty file: column names, example lines to overwrite, and notes."""
    importing = page.importing
    names = [column.name for column in importing.columns]
    rows = [[line.get(name) for name in names] for line in importing.examples]
    notes = [*importing.notes, *_column_notes(importing)]
    if form == "csv":
        rows += [[f"# {note}"] for note in notes]
        sheets = [writing.Sheet(importing.sheet, names, lambda: rows)]
    else:
        sheets = [
            writing.Sheet(importing.sheet, names, lambda: rows),
            writing.Sheet("notes", ["Notes"], lambda: [[note] for note in notes]),
        ]
    return sheet_file(sheets, f"{importing.sheet}-template", form)


def sheet_file(sheets: list[writing.Sheet], name: str, form: str) -> HttpResponse:
    """A small file in one piece; of several sheets CSV takes the first."""
    out = io.BytesIO()
    if form == "csv":
        writing.write_csv(sheets[0], out)
    else:
        writing.write_xlsx(sheets, out)
    response = HttpResponse(out.getvalue(), content_type=_KINDS[form])
    response["Content-Disposition"] = f'attachment; filename="{name}.{form}"'
    return response


def _column_notes(importing: Importing) -> list[str]:
    return [
        f"{column.name}{' (needed)' if column.needed else ''}: {column.help}."
        for column in importing.columns
        if column.help or column.needed
    ]
