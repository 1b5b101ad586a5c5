"""Taking over what measured pours say of a mold's volume."""

from decimal import Decimal

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST

from production import mold_evidence
from production.models import Mold
from production.services import molds as keeping
from production.services.refusals import Refusal


@require_POST
def mold_correct(request: HttpRequest, pk: int) -> HttpResponse:
    """Applies the proposal that the page showed; another one was made since: says so instead."""
    mold = get_object_or_404(Mold, pk=pk)
    found = mold_evidence.proposal(mold)
    if found is None or f"{found.shot_ml:.1f}" != request.POST.get("shot_ml"):
        messages.warning(request, "Your pours say something else by now. Nothing was changed.")
    else:
        try:
            kept = keeping.correct_volume(mold=mold, shot_ml=Decimal(f"{found.shot_ml:.1f}"))
        except Refusal as error:
            messages.warning(request, str(error))
        else:
            messages.success(request, f"A shot of {kept} is now {kept.shot_ml.normalize():f} mL.")
    return redirect("production:mold", pk)
