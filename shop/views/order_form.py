"""Taking an order and changing one: typed, pasted, or as an earlier one was."""

from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from inventory.forms_base import DayField, number_text
from inventory.templatetags.shelf import price
from shop import catalog, money, prices, promises, queries
from shop import forms_orders as forms
from shop.models import Customer, Order
from shop.services import orders as service
from shop.views import order_page
from shop.views import promises as promise_pages

#: Buttons that show the lines again instead of keeping the order.
LOOKING = ("more", "read", "check")


@dataclass
class Typing:
    """What stands in the form while it is being written."""

    shelf: catalog.Shelf
    order: Order | None = None
    pasted: str = ""
    full: bool = False


@require_http_methods(["GET", "HEAD", "POST"])
def order_new(request: HttpRequest) -> HttpResponse:
    return _page(request, None)


@require_http_methods(["GET", "HEAD", "POST"])
def order_edit(request: HttpRequest, pk: int) -> HttpResponse:
    found = order_page.order_or_404(pk)
    if found.status != Order.Status.OPEN:
        messages.error(request, "Only an open order can be changed.")
        return redirect("order", pk=pk)
    return _page(request, found)


@require_safe
def order_products(request: HttpRequest) -> HttpResponse:
    """Products that fit what is being typed into a line, with what a bag costs the customer."""
    text = next((text for name, text in request.GET.items() if name.endswith("-product")), "")
    shelf = catalog.shelf()
    costs = prices.of_customer(_customer(request.GET.get("customer", "")))
    found = [
        {"known": known, "price": price(costs.of(shelf.products[known.key]))}
        for known in shelf.catalog.search(text)
    ]
    return render(request, "shop/_product_picks.html", {"found": found, "text": text.strip()})


def _page(request: HttpRequest, order: Order | None) -> HttpResponse:
    typing = Typing(catalog.shelf(), order)
    if request.method != "POST":
        head, rows = _start(request, order)
        return _shown(request, typing, head, _looked_at(typing, rows, head["customer"].value()))
    if any(name in request.POST for name in LOOKING):
        return _look(request, typing)
    head = forms.OrderForm(request.POST, order=order)
    lines = _lines(typing, request.POST, request.POST.get("customer", ""))
    if all([head.is_valid(), lines.is_valid()]) and (saved := _save(request, head, lines, order)):
        return redirect("order", pk=saved.pk)
    typing.pasted = request.POST.get("paste", "")[: forms.MOST_PASTED]
    return _shown(request, typing, head, lines, status=422)


def _start(request: HttpRequest, order: Order | None) -> tuple[forms.OrderForm, list[dict]]:
    """The form as it opens: empty, as the order stands, or like an earlier one."""
    if order:
        return forms.OrderForm(initial=_facts(order), order=order), _rows(order, with_prices=True)
    again = request.GET.get("again", "")
    if again.isascii() and again.isdecimal() and (old := queries.orders().filter(pk=again).first()):
        facts = _facts(old) | {"due_on": None, "notes": ""}
        return forms.OrderForm(initial=facts), _rows(old, with_prices=False)
    chosen = request.GET.get("customer", "")
    initial = {"customer": chosen} if chosen.isascii() and chosen.isdecimal() else None
    return forms.OrderForm(initial=initial), []


def _facts(order: Order) -> dict[str, Any]:
    names = ["due_on", "notes", "ship_to"]
    facts = {name: getattr(order, name) for name in names} | {"customer": order.customer_id}
    return facts | {
        "discount_percent": order.discount_percent or None,
        "shipping_minor": order.shipping_minor or None,
    }


def _rows(order: Order, *, with_prices: bool) -> list[dict[str, str]]:
    return [
        {
            "product": str(line.product),
            "bags": str(line.bags),
            "price": price(line.price_minor).replace(",", "") if with_prices else "",
            "discount": number_text(line.discount_percent) if line.discount_percent else "",
        }
        for line in order.lines.select_related("product__item")
    ]


def _look(request: HttpRequest, typing: Typing) -> HttpResponse:
    """The form again with what was understood beside each line, pasted lines taken in, and room for more."""
    rows = forms.typed_rows(request.POST)
    typing.pasted = request.POST.get("paste", "")[: forms.MOST_PASTED]
    if "read" in request.POST:
        room = forms.MOST_LINES - len(rows)
        pasted, rest = forms.pasted_rows(typing.pasted, typing.shelf, room)
        rows, typing.pasted, typing.full = rows + pasted, rest, bool(rest)
    head = forms.OrderForm(initial=request.POST.dict(), order=typing.order)
    return _shown(request, typing, head, _looked_at(typing, rows, request.POST.get("customer", "")))


def _looked_at(typing: Typing, rows: list[dict], customer: Any) -> forms.LinesBase:
    lines = _lines(typing, forms.lines_data(rows), customer)
    lines.looking = True
    lines.is_valid()
    return lines


def _lines(typing: Typing, data: QueryDict, customer: Any) -> forms.LinesBase:
    had = list(typing.order.lines.all()) if typing.order else []
    return forms.LinesFormSet(
        data,
        prefix=forms.PREFIX,
        form_kwargs={
            "shelf": typing.shelf,
            "prices": prices.of_customer(_customer(customer)),
            "kept": {line.product_id for line in had},
            "least": {n.product_id: least for n in had if (least := service.least_bags(n))},
        },
    )


def _customer(pk: Any) -> Customer | None:
    pk = str(pk or "")
    if not (pk.isascii() and pk.isdecimal() and len(pk) < 19):
        return None
    return Customer.objects.select_related("price_list").filter(pk=pk).first()


def _shown(
    request: HttpRequest,
    typing: Typing,
    head: forms.OrderForm,
    lines: forms.LinesBase,
    status: int = 200,
) -> HttpResponse:
    page = {
        "form": head,
        "lines": lines,
        "order": typing.order,
        "names": sorted(str(p) for p in typing.shelf.products.values() if not p.item.archived),
        "pasted": typing.pasted,
        "full": typing.full,
        "most": forms.MOST_LINES,
        "sum": _sum(lines),
    }
    if "check" in request.POST:
        page |= _checked(request, head, lines)
    return render(request, "shop/order_form.html", page, status=status)


def _checked(request: HttpRequest, head: forms.OrderForm, lines: forms.LinesBase) -> dict[str, Any]:
    """Whether what is typed so far can be promised; a line that is not clear yet is left out."""
    costs = lines.form_kwargs["prices"]
    asked = [
        promises.Asked(
            n.product.pk,
            n.bags,
            money.line_total(
                1,
                costs.of(n.product) if n.price_minor is None else n.price_minor,
                n.discount_percent,
            ),
        )
        for n in lines.wanted()
    ]
    try:
        due = DayField(required=False).clean(head["due_on"].value())
    except ValidationError:
        due = None
    if not asked:
        return {"checked": True}
    return promise_pages.of_typed(request, promises.Question(asked, due))


def _sum(lines: forms.LinesBase) -> dict[str, int] | None:
    """Bags and money of the lines that are clear; None while there is none."""
    wanted = lines.wanted() if lines.is_bound and lines.management_form.is_valid() else []
    if not wanted:
        return None
    costs = lines.form_kwargs["prices"]
    total = money.order_total(
        (
            n.bags,
            costs.of(n.product) if n.price_minor is None else n.price_minor,
            n.discount_percent,
        )
        for n in wanted
    )
    return {"bags": sum(n.bags for n in wanted), "goods_minor": total.goods_minor}


def _save(
    request: HttpRequest, head: forms.OrderForm, lines: forms.LinesBase, order: Order | None
) -> Order | None:
    """The order as saved; None when there is something to answer first: the form then says what."""
    facts = head.facts() | {"lines": lines.wanted()}
    try:
        if order:
            return service.change(order, **facts)
        if facts["customer"].pk and not request.POST.get("really"):
            like = {name: facts[name] for name in ("customer", "lines", "due_on")}
            if twin := service.twin(**like):
                head.ask_again(twin)
                return None
        deposit = head.cleaned_data["deposit"] or 0
        return service.take(**facts, deposit_minor=deposit, by=request.user)
    except service.OrderError as error:
        head.add_error(None, str(error))
    except ValidationError as error:
        head.add_error(None, error.messages)
    return None
