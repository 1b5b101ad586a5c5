"""Money that came for an order, or went back."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from inventory.forms_base import save_or_errors
from inventory.services.posting import KeyReused
from inventory.templatetags.shelf import price
from shop import queries
from shop.forms_payments import PaymentForm
from shop.models import Payment
from shop.services import payments
from shop.views import order_page, posted

Kind = Payment.Kind
_SAID = {Kind.DEPOSIT: "Deposit", Kind.PAYMENT: "Payment", Kind.REFUND: "Refund"}


@require_http_methods(["GET", "HEAD", "POST"])
def payment_new(request: HttpRequest, pk: int) -> HttpResponse:
    order = order_page.order_or_404(pk)
    money = queries.money_of(order)
    initial = {"amount": money.due_minor or None}
    if money.due_minor < 0:
        initial = {"amount": -money.due_minor, "kind": Kind.REFUND}
    form = PaymentForm(posted(request), total=money, initial=initial)
    if request.method == "POST" and form.is_valid() and (paid := _record(request, form, order)):
        messages.success(
            request, f"{_SAID[paid.kind]} of {price(abs(paid.amount_minor))} is written down."
        )
        return redirect("order", pk=pk)
    page = {"order": order, "form": form, "money": money}
    return render(request, "shop/payment.html", page, status=422 if form.is_bound else 200)


def _record(request: HttpRequest, form: PaymentForm, order) -> Payment | None:
    typed = form.cleaned_data
    try:
        return save_or_errors(
            form,
            payments.record,
            key=typed["key"],
            order=order,
            kind=typed["kind"],
            amount_minor=typed["amount"],
            paid_on=typed["paid_on"],
            how=typed["how"],
            by=request.user,
        )
    except KeyReused as error:
        form.add_error(None, str(error))
        form.fresh_key()
    return None
