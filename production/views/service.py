"""When a mold, an injector or a cup is due for service."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from production import wear
from production.forms.service import ServiceForm
from production.services import service as writing


@require_http_methods(["GET", "HEAD", "POST"])
def service(request: HttpRequest, kind: str, pk: int) -> HttpResponse:
    tool = _tool(kind, pk)
    initial = {"service_every_shots": tool.service_every_shots}
    form = ServiceForm(request.POST if request.method == "POST" else None, initial=initial)
    if request.method == "POST" and form.is_valid():
        writing.set_interval(tool, form.cleaned_data["service_every_shots"])
        messages.success(request, "Kept.")
        return redirect("production:service", kind=kind, pk=pk)
    context = {"form": form, "tool": tool, "kind": kind}
    return render(request, "production/service.html", context, status=422 if form.errors else 200)


@require_POST
def serviced(request: HttpRequest, kind: str, pk: int) -> HttpResponse:
    tool = _tool(kind, pk)
    writing.serviced(tool)
    messages.success(request, f"{tool} was serviced today: its shots count from here.")
    return redirect("production:service", kind=kind, pk=pk)


def _tool(kind: str, pk: int):
    if kind not in wear.TOOLS:
        raise Http404
    return get_object_or_404(wear.with_shots(kind), pk=pk)
