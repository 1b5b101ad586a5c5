"""A day at a stall: loading, a tap a bag, the count, what comes home, and the cash."""

from dataclasses import dataclass, field

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from inventory import at_place, forms_moving
from inventory.forms_base import new_key, post_or_errors
from inventory.models import Entry, Item
from inventory.services import counts
from inventory.services.posting import KeyReused, LedgerError
from inventory.views import paging
from inventory.views.buying import as_file, paper
from production.models import Product
from shop import forms_stall as forms
from shop import prices, stall, stall_papers
from shop.models import Sale, StallDay
from shop.services import selling
from shop.services import stalls as service
from shop.views import PER_PAGE, posted

UNREADY = 422


@require_http_methods(["GET", "HEAD", "POST"])
def stalls(request: HttpRequest) -> HttpResponse:
    """All days, and the form that starts one."""
    form = forms.StartForm(posted(request))
    if request.method == "POST" and form.is_valid() and (day := _start(request, form)):
        return redirect("stall_load", day.pk)
    context = {"page_obj": paging.page(request, stall.days(), size=PER_PAGE), "query": ""}
    return paging.render_form(request, "shop/stalls.html", form, **context)


def _start(request: HttpRequest, form: forms.StartForm) -> StallDay | None:
    data = form.cleaned_data
    try:
        return service.start(
            place=data.get("place"),
            new_place=data["new_place"],
            float_minor=data["cash"],
            price_list=data.get("price_list"),
            by=request.user,
        )
    except service.StallError as error:
        form.add_error(None, str(error))
    return None


@require_http_methods(["GET", "HEAD", "POST"])
def stall_day(request: HttpRequest, pk: int) -> HttpResponse:
    """An open day sells; a closed one tells."""
    day = _day(pk)
    if request.method == "POST":
        return _Selling(request, day).press()
    if day.closed_at:
        if request.htmx:
            return HttpResponse(status=286, headers={"HX-Refresh": "true"})
        context = {
            "day": day,
            "cash": (cash := stall.cash(day)),
            "difference": stall_papers.difference(cash),
            "sold": stall.sold_rows(sale__day=day),
            "board": stall.board(day),
        }
        return render(request, "shop/stall_closed.html", context)
    return _Selling(request, day).shown()


@dataclass
class Tile:
    """One product to tap, with the keys that its two buttons will send."""

    row: stall.Row
    cash_key: str = field(default_factory=new_key)
    card_key: str = field(default_factory=new_key)


class _Selling:
    """One request to an open day: what is shown, and what was tapped."""

    def __init__(self, request: HttpRequest, day: StallDay) -> None:
        self.request, self.day = request, day

    def press(self) -> HttpResponse:
        form = forms.PressForm(self.request.POST, day=self.day)
        if not form.is_valid():
            return self.shown(form=form, status=UNREADY)
        data = form.cleaned_data
        try:
            told = self._sell(form) if data["do"] == forms.SELL else self._undo(data)
        except selling.NotThere as question:
            form.question(f"{question} {_last_sold(self.day, data['product'])}".strip())
            return self.shown(form=form, status=UNREADY)
        except KeyReused:
            told = ""  # the same tap again: it is counted
        except LedgerError as refusal:
            form.add_error(None, str(refusal))
            return self.shown(form=form, status=UNREADY)
        if self.request.htmx:
            return self.shown(told=told)
        if told:
            messages.success(self.request, told)
        answer = redirect(f"{self.request.path}#bag-{data['product'].pk if data['product'] else 0}")
        answer.status_code = 303
        return answer

    def _sell(self, form: forms.PressForm) -> str:
        data = form.cleaned_data
        product = data["product"]
        price = prices.of_list(self.day.price_list).of(product)
        really = bool(self.request.POST.get("really"))
        entry = selling.sell(
            key=data["key"],
            day=self.day,
            lines=[selling.Sold(product, 1, price)],
            how=data["how"] or Sale.How.CASH,
            really=really,
            by=self.request.user,
        )
        return f"{entry.title}. Count it when there is time." if really else ""

    def _undo(self, data: dict) -> str:
        if Entry.objects.filter(key=data["key"]).exists():
            return ""
        entry = counts.undo(key=data["key"], entry=data["sale"].entry, by=self.request.user)
        return f"{entry.title}."

    def shown(
        self, *, form: forms.PressForm | None = None, told: str = "", status: int = 200
    ) -> HttpResponse:
        board = stall.board(self.day)
        context = {
            "day": self.day,
            "board": board,
            "tiles": [Tile(row) for row in board.rows],
            "cash": stall.Cash(self.day.float_minor, board.takings),
            "undo_key": new_key(),
            "form": form,
            "told": told,
            "pressed": self.request.method == "POST",
            "fragment": bool(self.request.htmx),
        }
        template = "_stall_answer.html" if self.request.htmx else "stall_day.html"
        return render(self.request, f"shop/{template}", context, status=status)


def _last_sold(day: StallDay, product: Product) -> str:
    """When a product was sold last, so that two who sold the same bag find out."""
    last = (
        stall.standing_sales()
        .filter(day=day, lines__product=product)
        .select_related("entry__by")
        .first()
    )
    if last is None:
        return ""
    who = f" by {last.entry.by.get_username()}" if last.entry.by else ""
    return f"The last one was sold at {timezone.localtime(last.entry.happened_at):%H:%M}{who}."


@require_http_methods(["GET", "HEAD", "POST"])
def stall_several(request: HttpRequest, pk: int) -> HttpResponse:
    day = _day(pk)
    if turned := _closed(request, day):
        return turned
    rows = [row for row in stall.board(day).rows if row.left or row.sold]
    others = Product.objects.filter(item__archived=False).select_related("item")
    others = others.exclude(pk__in=[row.product.pk for row in rows])
    form = forms.SeveralForm(
        posted(request), rows=rows, others=others, price=prices.of_list(day.price_list).of
    )
    if (
        request.method == "POST"
        and form.is_valid()
        and (entry := _sell_several(request, day, form))
    ):
        messages.success(request, f"{entry.title}.")
        return redirect("stall_day", pk)
    return paging.render_form(request, "shop/stall_several.html", form, day=day)


def _sell_several(request: HttpRequest, day: StallDay, form: forms.SeveralForm) -> Entry | None:
    def post(**facts) -> Entry:
        try:
            return selling.sell(really=bool(request.POST.get("really")), **facts)
        except selling.NotThere as question:
            form.question(f"{question} Sold all the same?")
            return None

    how = form.cleaned_data["how"]
    return post_or_errors(form, post, day=day, lines=form.lines, how=how, by=request.user)


@require_http_methods(["GET", "HEAD", "POST"])
def stall_load(request: HttpRequest, pk: int) -> HttpResponse:
    """What goes along: bags from home, the oldest first."""
    day = _day(pk)
    if turned := _closed(request, day):
        return turned
    heaps = at_place.movable(None, Item.Kind.BAGGED)
    form = forms_moving.HeapsForm(posted(request), heaps=heaps)
    if request.method == "POST" and form.is_valid():
        facts = {"place": day.place, "reference": f"stall:{pk}", "by": request.user}
        if forms_moving.move_or_errors(form, **facts):
            messages.success(request, f"Loaded for {day.place}. Take the list along.")
            return redirect("stall_load", pk)
    context = {"day": day, "there": stall.rows_at(day.place, day.price_list)}
    return paging.render_form(request, "shop/stall_load.html", form, **context)


@require_safe
def stall_list(request: HttpRequest, pk: int) -> HttpResponse:
    data = stall_papers.load_list(_day(pk), request.shop, paper=paper(request))
    return as_file(data, "application/pdf", f"load-list-{pk}.pdf", "inline")


@require_safe
def stall_summary(request: HttpRequest, pk: int) -> HttpResponse:
    data = stall_papers.day_summary(_day(pk), request.shop, paper=paper(request))
    return as_file(data, "application/pdf", f"stall-day-{pk}.pdf", "inline")


@require_http_methods(["GET", "HEAD", "POST"])
def stall_count(request: HttpRequest, pk: int) -> HttpResponse:
    day = _day(pk)
    if turned := _closed(request, day):
        return turned
    rows = stall.rows_at(day.place, day.price_list)
    form = forms.CountForm(posted(request), rows=rows, asks=True)
    if request.method == "POST" and form.is_valid():
        facts = {"day": day, "counted": form.counted, "by": request.user}
        if post_or_errors(form, selling.count_stall, **facts):
            messages.success(request, "Counted. The stall is as you saw it.")
            return redirect("stall_end", pk)
    return paging.render_form(request, "shop/stall_count.html", form, day=day)


@require_http_methods(["GET", "HEAD", "POST"])
def stall_home(request: HttpRequest, pk: int) -> HttpResponse:
    """What is left comes home, or as much of it as is said."""
    day = _day(pk)
    form = forms.BringForm(posted(request), heaps=at_place.movable(day.place, Item.Kind.BAGGED))
    if request.method == "POST" and form.is_valid():
        place = form.cleaned_data["place"]
        facts = {"place": place, "reference": f"stall:{pk}", "by": request.user}
        if forms_moving.move_or_errors(form, **facts):
            messages.success(request, f"Back at {place or 'home'}.")
            return redirect("stall_day" if day.closed_at else "stall_end", pk)
    return paging.render_form(request, "shop/stall_home.html", form, day=day)


@require_http_methods(["GET", "HEAD", "POST"])
def stall_end(request: HttpRequest, pk: int) -> HttpResponse:
    """The end of the day, step by step; POST closes it with the cash that was counted."""
    day = _day(pk)
    if turned := _closed(request, day):
        return turned
    cash = stall.cash(day)
    form = forms.CloseForm(posted(request), cash=cash)
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        try:
            service.close_day(day, counted_minor=data["counted"], note=data["note"])
        except service.StallError as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, f"The day at {day.place} is closed.")
            return redirect("stall_day", pk)
    rows = stall.rows_at(day.place, day.price_list)
    context = {"day": day, "cash": cash, "left": sum(row.left for row in rows)}
    context["to_count"] = any(row.count_me for row in rows)
    return paging.render_form(request, "shop/stall_end.html", form, **context)


@require_POST
def stall_reopen(request: HttpRequest, pk: int) -> HttpResponse:
    try:
        service.open_again(_day(pk))
    except service.StallError as error:
        messages.error(request, str(error))
    return redirect("stall_day", pk)


def _closed(request: HttpRequest, day: StallDay) -> HttpResponse | None:
    """Where a closed day leads who would add to it."""
    if not day.closed_at:
        return None
    messages.error(request, "This day is closed. Open it again to add to it.")
    return redirect("stall_day", day.pk)


def _day(pk: int) -> StallDay:
    return get_object_or_404(StallDay.objects.select_related("place", "price_list", "by"), pk=pk)
