"""Can I promise it? Asked of an open order, of what is being typed, and of one product."""

import datetime
from dataclasses import replace
from typing import Any
from urllib.parse import parse_qsl, urlsplit

from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.http import require_safe

from inventory.forms_base import DayField, PlainForm
from production import promise, promise_shelf
from production.models import Product
from shop import promise_page, promises
from shop.models import Order
from shop.views import order_page

WORTHS = [
    (promise.BAGS, "Most bags"),
    (promise.VALUE, "Most value"),
    (promise.RANK, "Lines in their order"),
]
MOST_LINES = 100
MOST_AHEAD = datetime.timedelta(days=promise_shelf.MOST_DAYS)


@require_safe
def order_promise(request: HttpRequest, pk: int) -> HttpResponse:
    """What of an open order can be ready in time, and what the rest lacks."""
    order = order_page.order_or_404(pk)
    if order.status != Order.Status.OPEN:
        raise Http404
    here = reverse("order_promise", args=[pk])
    page = answered(request, promises.of_order(order), here, [])
    return render(request, "shop/promise.html", page | {"order": order})


@require_safe
def promise_new(request: HttpRequest) -> HttpResponse:
    """The same for what is not an order yet: ?line=12x30@650, a product's number, bags and price."""
    question = _typed(request.GET)
    kept = [(name, text) for name, text in _pairs(request.GET) if name in ("line", "due")]
    page = answered(request, question, reverse("promise_new"), kept)
    return render(request, "shop/promise.html", page | {"order": None})


def asked_url(question: promises.Question) -> str:
    """Where what is being typed is answered."""
    lines = [("line", f"{n.product}x{n.bags}@{n.price_minor}") for n in question.lines]
    due = [("due", question.due_on.isoformat())] if question.due_on else []
    return f"{reverse('promise_new')}?{urlencode([*lines, *due])}"


def of_typed(request: HttpRequest, question: promises.Question) -> dict[str, Any]:
    """What shop/_promise.html shows of what is being typed: at once; its links lead to `promise_new`."""
    kept = [(name, text) for name, text in parse_qsl(urlsplit(asked_url(question)).query)]
    return answered(request, question, reverse("promise_new"), kept)


def answered(
    request: HttpRequest,
    question: promises.Question,
    here: str,
    kept: list[tuple[str, str]],
) -> dict[str, Any]:
    """What shop/_promise.html shows: at once by the rule; with ?full=1 the best part, proven."""
    worth = request.GET.get("worth", promise.BAGS)
    if worth not in dict(WORTHS):
        raise Http404
    first = [int(pk) for pk in request.GET.getlist("first") if pk.isascii() and pk.isdecimal()]
    if worth == promise.RANK:
        question = _ranked(question, first)
    full = "full" in request.GET
    seconds = promises.LONGER if "longer" in request.GET else promises.SECONDS
    answer = promises.ask(question, quick=not full, worth=worth, seconds=seconds)
    house = getattr(request, "shop", None)
    shown = promise_page.show(answer, house.units if house else "metric")
    order = question.order

    def address(**more: Any) -> str:
        extra = [(name, text) for name, text in more.items() if not isinstance(text, list)]
        extra += [
            (name, one) for name, many in more.items() if isinstance(many, list) for one in many
        ]
        return f"{here}?{urlencode([*kept, *extra])}"

    ranked = [line.product for line in question.lines]
    return {
        "shown": shown,
        "worth": worth,
        "full_url": "" if full or shown.whole else address(full=1, worth=worth, first=first),
        "longer_url": address(full=1, longer=1, worth=worth, first=first)
        if full and not (shown.proven and shown.least) and seconds < promises.LONGER
        else "",
        "longer": round(promises.LONGER),
        "worths": [
            (name, label, address(full=1, worth=name, first=ranked if name == promise.RANK else []))
            for name, label in WORTHS
        ],
        "firsts": {
            row.product: address(
                full=1,
                worth=promise.RANK,
                first=[row.product, *(pk for pk in ranked if pk != row.product)],
            )
            for row in shown.rows
        },
        "seconds": round(promises.SECONDS),
        "message": promise_page.message(
            shown,
            customer=str(order.customer) if order else "",
            shop=house.name if house else "",
        ),
    }


def _ranked(question: promises.Question, first: list[int]) -> promises.Question:
    place = {pk: number for number, pk in enumerate(dict.fromkeys(first))}
    lines = sorted(question.lines, key=lambda line: place.get(line.product, len(place)))
    return replace(question, lines=lines)


def _pairs(sent: QueryDict) -> list[tuple[str, str]]:
    return [(name, text) for name, many in sent.lists() for text in many]


def _typed(sent: QueryDict) -> promises.Question:
    """Lines as `asked_url` writes them. Raises Http404 for anything else."""
    lines: dict[int, promises.Asked] = {}
    for text in sent.getlist("line")[:MOST_LINES]:
        product, _, rest = text.partition("x")
        bags, _, price = rest.partition("@")
        if not all(part.isascii() and part.isdecimal() for part in (product, bags, price or "0")):
            raise Http404
        if len(product) > 18 or not 0 < int(bags) <= promise.MOST_BAGS or len(price) > 12:
            raise Http404
        lines[int(product)] = promises.Asked(int(product), int(bags), int(price or 0))
    found = set(Product.objects.filter(pk__in=lines).values_list("pk", flat=True))
    if not lines or set(lines) - found:
        raise Http404
    try:
        due = datetime.date.fromisoformat(sent["due"]) if sent.get("due") else None
    except ValueError as error:
        raise Http404 from error
    return promises.Question(list(lines.values()), due)


class ByForm(PlainForm):
    """The day by which it must be ready."""

    by = DayField(label="Ready by")

    def clean_by(self) -> datetime.date:
        day, today = self.cleaned_data["by"], timezone.localdate()
        if day < today:
            self.add_error("by", "That day has passed. Choose today or a later day.")
        elif day > today + MOST_AHEAD:
            self.add_error("by", "That is more than a year ahead: nobody knows the shelf then.")
        return day


@require_safe
def product_most(request: HttpRequest, pk: int) -> HttpResponse:
    """The most bags of one product that could be promised by a day, and what one more would lack."""
    product = get_object_or_404(Product.objects.select_related("item"), pk=pk)
    usual = timezone.localdate() + datetime.timedelta(days=14)
    sent = request.GET if "by" in request.GET else {"by": usual.isoformat()}
    form = ByForm(sent)
    page: dict[str, Any] = {"product": product, "form": form}
    if form.is_valid():
        by = form.cleaned_data["by"]
        found, facts, earlier = promises.most(product, by)
        one_more = promises.Question(
            [promises.Asked(pk, found.answer.lines[0].bags, product.price_minor)], by
        )
        answer = promises.Answer(one_more, facts, found.answer, (0,), earlier, False)
        house = getattr(request, "shop", None)
        shown = promise_page.show(answer, house.units if house else "metric")
        page |= {"most": found.bags, "by": by, "shown": shown}
    return render(request, "shop/product_most.html", page, status=200 if form.is_valid() else 422)
