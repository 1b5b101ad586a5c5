"""Tonight, the burn page, and the pages for what went wrong."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory import queries as shelf
from inventory import servicing
from inventory.models import Lot
from production import pour_record, same_again
from production import queries as bench
from production.tonight import Tonight
from shop import first_steps, queries, stall

#: So many lines of each list; the rest is a link away.
SHOWN = 12


@require_safe
def tonight(request: HttpRequest) -> HttpResponse:
    pour = bench.open_pour()
    waiting = queries.open_orders()
    due = list(waiting[: SHOWN + 1])
    states = queries.line_states(due[:SHOWN], Tonight().baits())
    low = list(shelf.low_items()[: SHOWN + 1])
    to_count = list(Lot.objects.filter(count_me=True).select_related("item")[: SHOWN + 1])
    steps = first_steps.steps()
    return render(
        request,
        "shop/tonight.html",
        {
            "pour": pour,
            "again": same_again.address(pour, pour_record.batches(pour)) if pour else "",
            "cups": bench.batches_in_cups(pour) if pour else [],
            "due": [queries.Due(order, states[order.pk]) for order in due[:SHOWN]],
            "more_due": len(due) > SHOWN,
            "low": low[:SHOWN],
            "more_low": len(low) > SHOWN,
            "to_count": to_count[:SHOWN],
            "more_to_count": len(to_count) > SHOWN,
            "service": servicing.due()[:SHOWN],
            "stall_days": stall.open_days(),
            "today": timezone.localdate(),
            "steps": steps if not all(step.done for step in steps) else [],
        },
    )


@require_safe
def burn(request: HttpRequest) -> HttpResponse:
    return render(request, "shop/burn.html")


def forbidden(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return render(request, "shop/forbidden.html", status=403)


def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return render(request, "shop/not_found.html", status=404)


def failed(request: HttpRequest) -> HttpResponse:
    # Without the request: no person, no shop, so no database, which may be what failed.
    return HttpResponse(render_to_string("shop/failed.html"), status=500)
