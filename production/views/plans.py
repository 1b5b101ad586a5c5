"""Planning an evening: what to make, the plan, its order, and how it becomes tonight's pour."""

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from production import plan_page, planned_mix, pour_sheet, pour_sheet_facts
from production.forms.plans import MinutesForm, WishForm
from production.models import Plan, PlannedBatch, Pour
from production.services import plans
from production.services.plans import PlanError

UNREADY = 422
#: So many products of an address are filled in.
MOST_MADE = 60
#: Plans that were made and never poured: so many of the newest are offered.
OPEN_PLANS = 5


@require_http_methods(["GET", "HEAD", "POST"])
def plan_new(request: HttpRequest) -> HttpResponse:
    """What to make; with ?plan= the wishes of a plan are changed, with ?make=product:bags they are filled
    in."""
    number = request.GET.get("plan", "")
    changed = get_object_or_404(_waiting(), pk=number) if number.isdecimal() else None
    sent = request.POST if request.method == "POST" else None
    form = WishForm(sent, plan=changed, make=_to_make(request))
    if request.method == "POST" and form.is_valid():
        try:
            made = plans.make(wishes=form.wishes(), plan=changed, by=request.user)
            return redirect("production:plan", made.pk)
        except PlanError as error:
            form.problems.append(str(error))
    context = {"form": form, "plan": changed, "open_plans": _waiting()[:OPEN_PLANS]}
    status = UNREADY if form.has_errors else 200
    return render(request, "production/plan_new.html", context, status=status)


def _to_make(request: HttpRequest) -> dict[int, int]:
    """Products and bags of the address; anything else in it is passed over."""
    found: dict[int, int] = {}
    for text in request.GET.getlist("make")[:MOST_MADE]:
        product, _, bags = text.partition(":")
        if all(part.isascii() and part.isdecimal() and len(part) < 10 for part in (product, bags)):
            found[int(product)] = int(bags)
    return {product: bags for product, bags in found.items() if bags}


@require_safe
def plan(request: HttpRequest, pk: int) -> HttpResponse:
    return _shown(request, _found(pk))


@require_POST
def plan_again(request: HttpRequest, pk: int) -> HttpResponse:
    """Another order: as dragged, one place up or down, around locked batches, or the best."""
    found, sent = _found(pk), request.POST
    order, locked = found.outcome["order"], sent.getlist("lock")
    piece, _, way = sent.get("move", "").rpartition(":")
    if piece:
        return _changed(request, found, lambda: plans.move(plan=found, piece=piece, up=way == "up"))
    if leave := sent.getlist("leave"):
        return _changed(request, found, lambda: plans.leave_out(plan=found, pieces=leave))
    if "reorder" in sent:
        keys = sent.getlist("order")
        return _changed(request, found, lambda: plans.reorder(plan=found, order=keys))
    if "larger" in sent:
        allowed = sent["larger"] == "yes"
        return _changed(request, found, lambda: plans.mix_larger(plan=found, allowed=allowed))
    if "all" in sent:
        return _changed(request, found, lambda: plans.take_in(plan=found))
    if "around" in sent and not locked:
        return _shown(
            request, found, problem="Nothing is locked: tick the batches that keep their place."
        )
    if "around" in sent:
        return _changed(request, found, lambda: plans.again(plan=found, order=order, locked=locked))
    return _changed(request, found, lambda: plans.again(plan=found))


@require_POST
def plan_minutes(request: HttpRequest, pk: int) -> HttpResponse:
    found, form = _found(pk), MinutesForm(request.POST)
    if not form.is_valid():
        return _shown(request, found, minutes=form)
    return _changed(
        request,
        found,
        lambda: plans.give_minutes(plan=found, minutes=form.cleaned_data["minutes"]),
        to="time",
    )


@require_POST
def plan_adopt(request: HttpRequest, pk: int) -> HttpResponse:
    found = _found(pk)
    try:
        pour = plans.adopt(plan=found, by=request.user)
    except PlanError as error:
        return _shown(request, found, problem=str(error))
    messages.success(request, "The plan is tonight's pour. Its batches wait below.")
    return redirect("production:pour", pour.pk)


@require_POST
def plan_discard(request: HttpRequest, pk: int) -> HttpResponse:
    found = Plan.objects.filter(pk=pk).first()
    try:
        if found:
            plans.discard(plan=found)
    except PlanError as error:
        return _shown(request, found, problem=str(error))
    messages.success(request, "The plan is let go. Nothing on the shelf has changed.")
    return redirect("production:plan_new")


@require_safe
def plan_paper(request: HttpRequest, pk: int) -> HttpResponse:
    """The plan as a pour sheet."""
    found = _found(pk)
    try:
        data = pour_sheet.draw(pour_sheet_facts.of_plan(found, request.shop))
    except pour_sheet.PourSheetError as error:
        messages.error(request, str(error))
        return redirect("production:plan", pk)
    answer = HttpResponse(data, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="plan-{pk}.pdf"'
    return answer


@require_safe
def planned_mix_go(request: HttpRequest, pk: int, planned: int) -> HttpResponse:
    """To the mix page, asked for a waiting batch with what is really there of its sources."""
    pour = get_object_or_404(Pour, pk=pk)
    row = get_object_or_404(
        PlannedBatch.objects.select_related("plan"), pk=planned, plan__pour=pour
    )
    answer = redirect("production:batch_mix", pk)
    answer["Location"] += f"?{planned_mix.question(row)}"
    return answer


@require_POST
def planned_off(request: HttpRequest, pk: int, planned: int) -> HttpResponse:
    row = PlannedBatch.objects.filter(pk=planned, plan__pour=pk).first()
    if row:
        plans.take_off(planned=row)
        messages.success(request, f"Batch {row.position} of the plan is off tonight's list.")
    return redirect("production:pour", pk)


def _changed(
    request: HttpRequest, found: Plan, change: Callable[[], Plan], *, to: str = "order"
) -> HttpResponse:
    """Makes the change and shows the plan from `to` on, or says why it cannot be made."""
    try:
        change()
    except PlanError as error:
        return _shown(request, found, problem=str(error))
    answer = redirect("production:plan", found.pk)
    answer["Location"] += f"#{to}"
    return answer


def _shown(
    request: HttpRequest, found: Plan, *, minutes: MinutesForm | None = None, problem: str = ""
) -> HttpResponse:
    page = plan_page.page(found)
    context = {
        "page": page,
        "plan": found,
        "minutes": minutes or MinutesForm(initial={"minutes": page.minutes}),
        "problem": problem,
        "owner": request.user.is_owner,
    }
    status = UNREADY if problem or minutes else 200
    return render(request, "production/plan.html", context, status=status)


def _found(pk: int) -> Plan:
    return get_object_or_404(Plan.objects.select_related("pour"), pk=pk)


def _waiting():
    """Plans that are not poured yet, the newest first."""
    return Plan.objects.filter(pour=None)
