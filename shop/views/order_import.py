"""Orders in from a file: choose it, say what its columns mean, answer what is open, look, keep.

Between the steps the table that was read, and all that was answered, travels in the page, signed; the
table is read anew at each step.
"""

from dataclasses import dataclass, field, replace
from typing import Any

from django.contrib import messages
from django.core import signing
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from inventory.exchange import files, notation
from inventory.exchange.notation import Notation
from inventory.exchange.table import FileError, Table
from inventory.views.exchange import AnswerForm
from production.models import Product
from shop import order_import
from shop.forms_import import FileForm, MappingForm, ProductsForm
from shop.models import OrderMapping
from shop.services import order_import as service
from shop.services.order_import import Drifted, Review

_SALT = "order-import"
#: Seconds that a page may be looked at before it is confirmed.
_PATIENCE = 24 * 60 * 60
#: Letters of the signed state; what a request may carry beside files is 3 MB (settings).
_MOST_SIGNED = 2_800_000
LOST = "This page was open for too long, or its file got lost. Choose the file again."


@dataclass(frozen=True)
class Import:
    """A file on its way in, and what was answered so far."""

    table: Table
    name: str = ""
    columns: dict[str, str] = field(default_factory=dict)
    said: Notation = Notation()
    answers: dict[str, int] = field(default_factory=dict)

    def signed(self) -> str:
        plain = {
            "table": self.table.plain(),
            "name": self.name,
            "columns": self.columns,
            "said": [self.said.decimal, self.said.dates],
            "answers": self.answers,
        }
        text = signing.dumps(plain, salt=_SALT, compress=True)
        if len(text) > _MOST_SIGNED:
            raise FileError(files.too_large())
        return text

    @classmethod
    def opened(cls, text: str) -> "Import":
        plain = signing.loads(text, salt=_SALT, max_age=_PATIENCE)
        return cls(
            Table.from_plain(plain["table"]),
            plain["name"],
            plain["columns"],
            Notation(*plain["said"]),
            plain["answers"],
        )


@require_http_methods(["GET", "HEAD", "POST"])
def order_import_page(request: HttpRequest) -> HttpResponse:
    if request.method != "POST":
        return _file_page(request, FileForm())
    try:
        if "state" not in request.POST:
            return _chosen(request)
        state = Import.opened(request.POST["state"])
        step = _STEPS.get(request.POST.get("step", ""), _map)
        return step(request, state)
    except (signing.BadSignature, FileError) as error:
        said = str(error) if isinstance(error, FileError) else LOST
        return _file_page(request, FileForm(), refused=said)


def _chosen(request: HttpRequest) -> HttpResponse:
    form = FileForm(request.POST, request.FILES)
    if not form.is_valid():
        return _file_page(request, form)
    try:
        table = files.read(form.content())
        headings = order_import.headings(table)
        kept: OrderMapping | None = form.cleaned_data["mapping"]
        columns = order_import.fitting(kept.columns, headings) if kept else {}
        state = Import(table, kept.name if kept else "", columns)
        state.signed()
    except FileError as error:
        form.add_error("paste" if form.cleaned_data["paste"] else "file", str(error))
        return _file_page(request, form)
    if kept and len(columns) == len(kept.columns):
        return _answered(request, replace(state, said=Notation(dates=kept.date_format)))
    missing = (
        [heading for meaning, heading in kept.columns.items() if meaning not in columns]
        if kept
        else []
    )
    note = f"The file has no column “{missing[0]}”. Look at the columns again." if missing else ""
    return _map_page(request, state, None, note=note)


def _map(request: HttpRequest, state: Import) -> HttpResponse:
    if "again" in request.POST:
        return _map_page(request, state, None)
    form = MappingForm(request.POST, headings=order_import.headings(state.table))
    if not form.is_valid():
        return _map_page(request, state, form)
    kept = OrderMapping.objects.filter(name__iexact=form.cleaned_data["name"]).first()
    name = kept.name if kept else form.cleaned_data["name"]
    state = replace(state, name=name, columns=form.mapping(), said=Notation(), answers={})
    return _answered(request, state)


def _ask(request: HttpRequest, state: Import) -> HttpResponse:
    said = {
        "decimal": (notation.POINT, notation.COMMA),
        "dates": (notation.DAY_FIRST, notation.MONTH_FIRST),
    }
    given = {
        name: request.POST[name] for name, known in said.items() if request.POST.get(name) in known
    }
    return _answered(request, replace(state, said=replace(state.said, **given)), tried=True)


def _products(request: HttpRequest, state: Import) -> HttpResponse:
    found = _review(state)
    form = _products_form(found, request.POST)
    if not form.is_valid():
        return _products_page(request, state, form)
    return _answered(request, replace(state, answers=state.answers | form.answers()))


def _keep(request: HttpRequest, state: Import) -> HttpResponse:
    try:
        taken = service.load(
            order_import.chosen(state.table, state.columns),
            state.said,
            source=state.name,
            columns=state.columns,
            answers=state.answers,
            seen=request.POST.get("seen", ""),
            by=request.user,
        )
    except Drifted as error:
        return _answered(request, state, refused=str(error))
    many = f"{len(taken)} order{'' if len(taken) == 1 else 's'}"
    messages.success(
        request, f"{many} from {state.name} taken over." if taken else "Nothing was new."
    )
    return redirect("orders")


_STEPS = {"map": _map, "ask": _ask, "products": _products, "keep": _keep}


def _answered(
    request: HttpRequest, state: Import, *, tried: bool = False, refused: str = ""
) -> HttpResponse:
    """The next step: what the file leaves open, what is wrong with it, or what it would do."""
    table = order_import.chosen(state.table, state.columns)
    records = order_import.records_of(table)
    asked = notation.questions(records, order_import.COLUMNS, state.said, table.separator)
    if asked:
        form = AnswerForm(request.POST if tried else None, questions=asked)
        return _render(request, "shop/order_import_ask.html", state, form=form)
    found = _review(state)
    if found.troubles:
        return _map_page(request, state, None, troubles=found)
    if found.unknown:
        return _products_page(request, state, _products_form(found))
    return _render(request, "shop/order_import_preview.html", state, review=found, refused=refused)


def _review(state: Import) -> Review:
    table = order_import.chosen(state.table, state.columns)
    return service.review(table, state.said, source=state.name, answers=state.answers)


def _products_form(found: Review, data: Any = None) -> ProductsForm:
    sold = Product.objects.filter(item__archived=False).select_related("item")
    products = [(product.pk, str(product)) for product in sold]
    return ProductsForm(data, unknown=found.unknown, products=products)


def _products_page(request: HttpRequest, state: Import, form: ProductsForm) -> HttpResponse:
    return _render(request, "shop/order_import_products.html", state, form=form)


def _map_page(
    request: HttpRequest,
    state: Import,
    form: MappingForm | None,
    *,
    note: str = "",
    troubles: Review | None = None,
) -> HttpResponse:
    headings = order_import.headings(state.table)
    if form is None:
        columns = state.columns or order_import.guess(headings)
        initial = MappingForm.start(headings, columns) | {"name": state.name}
        form = MappingForm(headings=headings, initial=initial)
    return _render(
        request, "shop/order_import_map.html", state, form=form, note=note, review=troubles
    )


def _file_page(request: HttpRequest, form: FileForm, *, refused: str = "") -> HttpResponse:
    page = {"form": form, "refused": refused, "columns": order_import.COLUMNS}
    status = 422 if form.is_bound or refused else 200
    return render(request, "shop/order_import.html", page, status=status)


def _render(request: HttpRequest, template: str, state: Import, **page: Any) -> HttpResponse:
    form, review = page.get("form"), page.get("review")
    wrong = (form is not None and form.is_bound) or bool(page.get("refused"))
    wrong = wrong or bool(review and review.troubles)
    page |= {"state": state.signed(), "import": state, "notes": state.table.notes}
    return render(request, template, page, status=422 if wrong else 200)
