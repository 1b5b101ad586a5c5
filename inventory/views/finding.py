"""Finding a lot by the code on its label, typed or scanned."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from inventory import lot_finder

LONGEST = 200


@require_safe
def find_lot(request: HttpRequest) -> HttpResponse:
    """Leads to the one lot with the code; several are offered, none is said."""
    typed = request.GET.get("code", "").replace("\0", "").strip()[:LONGEST]
    found = lot_finder.by_code(typed) if typed else []
    if len(found) == 1:
        return redirect("inventory:lot", found[0].pk)
    return render(request, "inventory/find_lot.html", {"typed": typed, "found": found})
