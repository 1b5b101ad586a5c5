"""The next color from what is in a cup, and plastic that comes in without papers."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from inventory import forms_base, units
from production import batch_record, cup_left, next_colors, pour_record, queries
from production.forms.leftover import NextForm
from production.forms.unrecorded import UnrecordedForm
from production.models import Mold
from production.services import unrecorded
from production.views.batches import UNREADY, found, sent

READ = ("amount", "in_cup", "hot")


@require_safe
def batch_next(request: HttpRequest, pk: int, batch: int) -> HttpResponse:
    one = found(pk, batch)
    asked = any(name in request.GET for name in (*READ, "base"))
    form = NextForm(request.GET if asked else None, batch=one)
    facts = form.cleaned_data if asked and form.is_valid() else {}
    lot = one.lot
    if (measured := facts.get("measured")) is not None:
        lot.on_hand = measured
    base = _millilitres(form, facts) or lot.on_hand
    # The evening that is open now: an older leftover is melted again tonight.
    pour = queries.open_pour() or one.pour
    carried = _carried(request, one, facts)
    context = {
        "pour": pour,
        "batch": one,
        "form": form,
        "record": batch_record.record(one),
        "left": lot.on_hand,
        "base": base,
        "fills": cup_left.fills(
            float(units.from_micro(pour_record.total_left(one))),
            Mold.objects.filter(archived=False),
        ),
        "colors": next_colors.becomings(lot, base, carried) if not form.errors else [],
        "free": next_colors.query("free", lot.on_hand, carried),
    }
    return render(
        request, "production/batch_next.html", context, status=UNREADY if form.errors else 200
    )


def _millilitres(form: NextForm, facts: dict) -> int:
    if not (amount := facts.get("base")):
        return 0
    try:
        return units.to_micro(units.convert(amount.value, amount.unit or "mL", "mL"))
    except units.UnitsError as error:
        form.add_error("base", str(error))
        return 0


def _carried(request: HttpRequest, batch, facts: dict) -> dict[str, str]:
    """What the mix page needs to know: the leftover, its cup, and how that was read."""
    carried = {"leftover": str(batch.lot_id), "heel": "0 mL"}
    if batch.cup_id:
        carried["cup"] = str(batch.cup_id)
    if facts.get("amount"):
        carried["left"] = request.GET["amount"]
        carried |= {name: "on" for name in ("in_cup", "hot") if facts.get(name)}
    return carried


@require_http_methods(["GET", "HEAD", "POST"])
def plastic_new(request: HttpRequest) -> HttpResponse:
    form = UnrecordedForm(sent(request))
    if request.method == "POST" and form.is_valid():
        facts = form.cleaned_data
        names = ("quantity", "said", "shape", "grade", "melts", "note")
        entry = forms_base.post_or_errors(
            form, unrecorded.take_in, by=request.user, **{name: facts[name] for name in names}
        )
        if entry:
            messages.success(request, f"{entry.title}. Choose it when you mix.")
            pour = queries.open_pour()
            return (
                redirect("production:batch_new", pour.pk) if pour else redirect("production:pours")
            )
    return render(
        request,
        "production/plastic_new.html",
        {"form": form},
        status=UNREADY if form.errors else 200,
    )
