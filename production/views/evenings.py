"""The way back from a bench page of an evening that was closed."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from production.models import Pour
from production.services.evenings import EveningClosed


def turned_back(request: HttpRequest, pour: Pour, *to) -> HttpResponse | None:
    """To the evening, or `to` (as `redirect` takes it), with words; None while the evening is open.

    A POST is answered by its service: it knows a press that came twice, and what was typed is kept."""
    if not pour.closed_at or request.method == "POST":
        return None
    messages.warning(request, str(EveningClosed(pour)))
    return redirect(*(to or ("production:pour", pour.pk)))
