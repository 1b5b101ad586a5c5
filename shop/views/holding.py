"""Holding bags for an order: what is there, lot by lot, giving them back; and that a lost hold was seen."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from inventory.forms_base import NumberField, PlainForm
from inventory.models import Lot
from inventory.services import holding
from inventory.services.posting import LedgerError
from inventory.units import MICRO
from shop import ready
from shop.models import Order, OrderLine
from shop.services import holds
from shop.views import order_page, posted


class HoldForm(PlainForm):
    """So many bags of each lot that is there for the order."""

    def __init__(self, *args, order: Order, **kwargs) -> None:
        super().__init__(*args, **kwargs)
        lines = order.lines.select_related("product__item")
        self.lines = {line.product.item_id: line for line in lines if line.remaining}
        held: dict[int, int] = {}
        for row in holding.of(holds.holder(order.pk)):
            held[row.lot_id] = held.get(row.lot_id, 0) + row.quantity // MICRO
        self.lots: dict[str, tuple[OrderLine, Lot]] = {}
        self.stock = ready.of(order.pk, self.lines)
        for item, line in self.lines.items():
            for one in self.stock[item].lots:
                name = f"lot-{one.lot.pk}"
                self.lots[name] = (line, one.lot)
                self.fields[name] = NumberField(
                    label=f"Lot {one.lot.number}",
                    whole=True,
                    at_least=0,
                    at_most=one.bags,
                    required=False,
                    initial=held.get(one.lot.pk, 0),
                    help_text=f"{one.bags} there for it"
                    + (
                        f", best before {one.lot.expires_on:%d %b %Y}" if one.lot.expires_on else ""
                    ),
                )

    @property
    def by_line(self) -> list[tuple[OrderLine, ready.Stock, list]]:
        """Each line that needs bags, what is there, and its lots' fields."""
        return [
            (line, self.stock[item], [self[n] for n, (of, _) in self.lots.items() if of == line])
            for item, line in self.lines.items()
        ]

    def wanted(self) -> dict[OrderLine, dict[Lot, int]]:
        found: dict[OrderLine, dict[Lot, int]] = {line: {} for line in self.lines.values()}
        for name, (line, lot) in self.lots.items():
            found[line][lot] = int(self.cleaned_data[name] or 0)
        return found

    def clean(self) -> dict:
        typed = super().clean()
        if not self.errors:
            for line, lots in self.wanted().items():
                if (together := sum(lots.values())) > line.remaining:
                    names = [n for n, (of, _) in self.lots.items() if of == line]
                    self.add_error(
                        names[-1],
                        f"{together} together, and only {line.remaining} are still to be sent.",
                    )
        return typed


@require_http_methods(["GET", "HEAD", "POST"])
def order_hold(request: HttpRequest, pk: int) -> HttpResponse:
    """Which lots an order holds, and how many bags of each."""
    order = order_page.order_or_404(pk)
    if order.status != Order.Status.OPEN:
        messages.error(request, "Only for an open order can bags be held.")
        return redirect("order", pk=pk)
    form = HoldForm(posted(request), order=order)
    if form.is_bound and form.is_valid():
        try:
            holds.hold_just(order, form.wanted())
        except LedgerError as error:
            form.add_error(None, f"{error} Look at what is there now.")
        else:
            messages.success(request, f"Order {pk} holds what you chose.")
            return redirect("order", pk=pk)
    status = 422 if form.is_bound else 200
    return render(request, "shop/order_hold.html", {"order": order, "form": form}, status=status)


@require_POST
def order_hold_all(request: HttpRequest, pk: int) -> HttpResponse:
    """Holds what is bagged and free, as far as the order needs it."""
    try:
        found = holds.hold(order_page.order_or_404(pk))
    except LedgerError as error:
        messages.error(request, str(error))
        return redirect("order", pk=pk)
    bags = sum(found.values())
    if bags:
        messages.success(request, f"{bags} bag{'' if bags == 1 else 's'} held for order {pk}.")
    else:
        messages.warning(request, "Nothing more is bagged and free: no bag was held.")
    return redirect("order", pk=pk)


@require_POST
def order_release(request: HttpRequest, pk: int) -> HttpResponse:
    """Gives back all that an order holds."""
    bags = holds.release_order(order_page.order_or_404(pk))
    messages.success(request, f"{bags} bag{'' if bags == 1 else 's'} given back.")
    return redirect("order", pk=pk)


@require_POST
def order_seen(request: HttpRequest, pk: int) -> HttpResponse:
    """Someone looked at what the order asked to be looked at for."""
    holds.looked_at(order_page.order_or_404(pk))
    return redirect("order", pk=pk)
