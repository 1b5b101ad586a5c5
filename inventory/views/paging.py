"""Long lists, a page at a time; a form shown again says so in its status."""

from urllib.parse import urlencode

from django.core.paginator import Page, Paginator
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render

ROWS = 50


def page(request: HttpRequest, rows: QuerySet, *, size: int = ROWS, name: str = "page") -> Page:
    """The page asked for by the parameter `name`; a number out of range gives the nearest page."""
    return Paginator(rows, size).get_page(request.GET.get(name))


def query(request: HttpRequest, *names: str) -> str:
    """The other parameters for the links between pages: encoded and ending in "&", or empty."""
    kept = [(name, request.GET[name]) for name in names if request.GET.get(name)]
    return f"{urlencode(kept)}&" if kept else ""


def posted(request: HttpRequest) -> QueryDict | None:
    """What was sent, also when nothing was; None on GET, for a form that is shown the first time."""
    return request.POST if request.method == "POST" else None


def render_form(request: HttpRequest, template: str, form, **context) -> HttpResponse:
    """A page with its form: 422 when the form holds errors, so that nobody takes it for done."""
    context["form"] = form
    return render(request, template, context, status=422 if form.errors else 200)
