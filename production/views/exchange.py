"""Molds and recipes from a file, and as they stand."""

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_http_methods, require_safe

from inventory.views import exchange
from production import exports
from production.resources import MOLDS, RECIPES

MOLDS_PAGE = exchange.Page(
    importing=MOLDS,
    title="Molds from a file",
    lede="Molds with their baits and cavities, from one CSV or XLSX file. You see what it does before "
    "anything is kept.",
    question="Are these your molds?",
    here="production:molds_file",
    back="production:molds",
    done="production:molds",
)
RECIPES_PAGE = exchange.Page(
    importing=RECIPES,
    title="Recipes from a file",
    lede="Recipes with their doses, from one CSV or XLSX file. You see what it does before anything is "
    "kept.",
    question="Are these your recipes?",
    here="production:recipes_file",
    back="production:colors",
    done="production:colors",
)


@require_http_methods(["GET", "HEAD", "POST"])
def molds(request: HttpRequest) -> HttpResponse:
    return exchange.exchange_page(request, MOLDS_PAGE)


@require_http_methods(["GET", "HEAD", "POST"])
def recipes(request: HttpRequest) -> HttpResponse:
    return exchange.exchange_page(request, RECIPES_PAGE)


@require_safe
def molds_template(request: HttpRequest, form: str) -> HttpResponse:
    return exchange.template_file(MOLDS_PAGE, form)


@require_safe
def recipes_template(request: HttpRequest, form: str) -> HttpResponse:
    return exchange.template_file(RECIPES_PAGE, form)


@require_safe
def molds_now(request: HttpRequest, form: str) -> HttpResponse:
    return exchange.sheet_file([exports.mold_sheet()], "molds", form)


@require_safe
def recipes_now(request: HttpRequest, form: str) -> HttpResponse:
    return exchange.sheet_file([exports.recipe_sheet()], "recipes", form)
