"""The next color from what is in a cup, a puck or trim, and plastic that comes in without papers."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from inventory import forms_base, units
from inventory.models import Lot
from production import batch_record, cup_left, next_colors, pour_record, queries
from production.forms import bench_choices
from production.forms.leftover import BaseForm, NextForm
from production.forms.unrecorded import UnrecordedForm
from production.models import Batch, Mold
from production.services import batches as service
from production.services import unrecorded
from production.views.batches import UNREADY, found, sent

READ = ("amount", "in_cup", "hot")
#: Leftovers on one page.
PAGE = 50


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
    context = {
        "pour": pour,
        "batch": one,
        "form": form,
        "record": batch_record.record(one),
        **_becomes(form, lot, base, pour_record.total_left(one), _carried(request, one, facts)),
    }
    return render(
        request, "production/batch_next.html", context, status=UNREADY if form.errors else 200
    )


@require_safe
def leftovers(request: HttpRequest) -> HttpResponse:
    """Everything that was poured and is still on hand, each with the way to what it can become."""
    page = Paginator(queries.leftovers(), PAGE).get_page(request.GET.get("page"))
    rows = list(page.object_list)
    for lot, name in zip(rows, bench_choices.leftover_names(rows), strict=True):
        lot.name = name
    return render(request, "production/leftovers.html", {"page_obj": page, "rows": rows})


@require_safe
def leftover_next(request: HttpRequest, pk: int) -> HttpResponse:
    """What trim, or plastic without papers, can become; a batch's leftover has a page of its own."""
    lot = get_object_or_404(Lot.objects.select_related("item"), pk=pk, item__kind="leftover")
    if batch := Batch.objects.filter(lot=lot, entry__reversed_by=None).first():
        return redirect("production:batch_next", batch.pour_id, batch.pk)
    form = BaseForm(request.GET if "base" in request.GET else None)
    facts = form.cleaned_data if form.is_bound and form.is_valid() else {}
    base = _millilitres(form, facts) or lot.on_hand
    carried = {"leftover": str(lot.pk), "heel": "0 mL"}
    plastic = service.plastic_of(lot, lot.on_hand)
    context = {
        "pour": queries.open_pour(),
        "lot": lot,
        "name": bench_choices.leftover_names([lot])[0],
        "plastic": plastic,
        "form": form,
        "limits": batch_record.limits(lot.item.grades),
        **_becomes(form, lot, base, plastic, carried),
    }
    return render(
        request, "production/leftover_next.html", context, status=UNREADY if form.errors else 200
    )


def _becomes(form, lot: Lot, base: int, plastic: int, carried: dict[str, str]) -> dict:
    """What both pages show: fills that empty it, and colors that it can become."""
    colors = next_colors.becomings(lot, base, carried) if not form.errors else []
    return {
        "left": lot.on_hand,
        "base": base,
        "fills": cup_left.fills(
            float(units.from_micro(plastic)), Mold.objects.filter(archived=False)
        ),
        "colors": colors,
        "using_up": next_colors.using_up(colors),
        "free": next_colors.query("free", lot.on_hand, carried),
    }


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
