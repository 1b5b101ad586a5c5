"""The opening shelf from a file: look at it first, then load all of it or nothing."""

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from inventory import forms_base, opening_csv
from inventory.services import opening as loading
from inventory.services.posting import KeyReused, LedgerError

PAGE = "inventory/opening.html"


class UploadForm(forms.Form):
    file = forms.FileField(
        label="CSV file",
        help_text="UTF-8, at most 1 MB.",
        widget=forms.FileInput(attrs={"accept": ".csv,text/csv"}),
        error_messages={"empty": "The file is empty."},
    )


@require_http_methods(["GET", "HEAD", "POST"])
def opening(request: HttpRequest) -> HttpResponse:
    if request.method != "POST":
        return _page(request, UploadForm())
    if "text" in request.POST:
        return _load(request)
    form = UploadForm(request.POST, request.FILES)
    if not form.is_valid():
        return _page(request, form, status=422)
    try:
        text = opening_csv.decode(_bytes(form.cleaned_data["file"]))
        reading = opening_csv.read(text, loading.known_items())
    except opening_csv.FileError as error:
        form.add_error("file", str(error))
        return _page(request, form, status=422)
    if reading.troubles:
        return _page(request, form, status=422, troubles=reading.troubles, rows=reading.rows)
    return _preview(request, text, reading)


@require_http_methods(["GET", "HEAD"])
def template(request: HttpRequest) -> HttpResponse:
    # With the byte-order mark, spreadsheets open it as UTF-8.
    response = HttpResponse(
        opening_csv.template().encode("utf-8-sig"), content_type="text/csv; charset=utf-8"
    )
    response["Content-Disposition"] = 'attachment; filename="opening-shelf.csv"'
    return response


def _bytes(file) -> bytes:
    return file.read(opening_csv.MOST_BYTES + 1)


def _load(request: HttpRequest) -> HttpResponse:
    """The second step: the text comes back from the page that showed it and is read again."""
    text = request.POST["text"]
    key = request.POST.get("key", "")[:50] or forms_base.new_key()
    form = UploadForm()
    try:
        if len(text.encode()) > opening_csv.MOST_BYTES * 2:
            raise opening_csv.FileError("The file is larger than 1 MB.")
        entry = loading.load(key=key, text=text, by=request.user)
    except (opening_csv.FileError, LedgerError) as error:
        again = (
            " Choose the file again to post it as a new one."
            if isinstance(error, KeyReused)
            else ""
        )
        return _page(request, form, status=422, refused=f"{error}{again}")
    if entry is None:
        messages.success(request, "The items are on the list. There was no stock to book.")
        return redirect("inventory:shelf")
    messages.success(request, f"{entry.title}.")
    return redirect("inventory:entry", entry.pk)


def _preview(request: HttpRequest, text: str, reading: opening_csv.Reading) -> HttpResponse:
    context = {"text": text, "key": forms_base.new_key(), "rows": reading.rows}
    return render(request, "inventory/opening_preview.html", context)


def _page(request: HttpRequest, form: UploadForm, status: int = 200, **context) -> HttpResponse:
    context |= {"form": form, "columns": opening_csv.COLUMNS, "must": opening_csv.MUST}
    return render(request, PAGE, context, status=status)
