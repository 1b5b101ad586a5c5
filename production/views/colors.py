"""Colors: the chips of all patterns, recipes with their versions, laminates."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.http import urlencode
from django.views.decorators.http import require_http_methods, require_safe

from inventory import units
from production import chip, dose_table, queries_colors
from production import said as wording
from production.forms import recipes as forms
from production.forms import rows as lines
from production.models import Batch, ProductContent, Recipe, RecipeVersion
from production.services import batches, recipes
from production.services.refusals import Refusal

PAGE = 50


@require_safe
def colors(request: HttpRequest) -> HttpResponse:
    text = request.GET.get("q", "").replace("\0", "").strip()[:80]
    away = request.GET.get("away") == "1"
    patterns = queries_colors.find_patterns(text, archived=away)
    page = Paginator(patterns, PAGE).get_page(request.GET.get("page"))
    kept = {"q": text, "away": "1" if away else ""}
    query = urlencode({name: value for name, value in kept.items() if value})
    return render(
        request,
        "production/colors.html",
        {"page_obj": page, "q": text, "away": away, "query": f"{query}&" if query else ""},
    )


@require_safe
def recipe(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Recipe, pk=pk)
    versions = list(queries_colors.recipe_versions(found))
    newest = versions[0]
    form = forms.BaseForm(request.GET if "base" in request.GET else None)
    base = form.cleaned_data["base"] if form.is_bound and form.is_valid() else None
    measured = []
    if base:
        measured = dose_table.measured(newest, units.convert(base.value, base.unit, "mL"))
    patterns = queries_colors.patterns_with_colors().filter(layers__version__recipe=found)
    context = {
        "recipe": found,
        "newest": newest,
        "versions": versions,
        "lines": dose_table.dose_lines(newest),
        "stand_ins": recipes.stand_ins_of(newest),
        "side_by_side": dose_table.side_by_side(versions),
        "has_flake": any(dose.item.kind == "flake" for dose in newest.doses.all()),
        "patterns": patterns.distinct(),
        "times_mixed": sum(version.times_mixed for version in versions),
        "form": form,
        "base": wording.said(base.value, base.unit) if base else "",
        "measured": measured,
    }
    return render(request, "production/recipe.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
def recipe_new(request: HttpRequest) -> HttpResponse:
    data = request.POST if request.method == "POST" else None
    grades = list(queries_colors.grades())
    form = forms.RecipeForm(data, grades=grades)
    rows, others = forms.dose_rows(data), forms.stand_in_rows(data)
    if _clear(data, form, rows, others):
        try:
            version = recipes.create(
                doses=[row.spec() for row in rows.filled],
                stand_ins=[row.spec() for row in others.filled],
                **form.facts(),
            )
        except Refusal as error:
            lines.show_refusal(error, form, rows)
        else:
            messages.success(request, f"{version.recipe} is kept. Pour a test piece.")
            return redirect("production:recipe", pk=version.recipe_id)
    context = {
        "form": form,
        "rows": rows,
        "others": others,
        "grades": grades,
        "wish": _wish(request),
    }
    return _shown(request, "production/recipe_form.html", context)


def _clear(data, form, rows: lines.Rows, others: lines.Rows) -> bool:
    """Whether the form was sent and nothing in it is to be mended."""
    if data is None:
        return False
    return all([form.is_valid(), rows.is_valid(), others.is_valid() and forms.agree(rows, others)])


def _wish(request: HttpRequest) -> dict[str, object]:
    """What someone wants to see in the recipe, when its page was opened for that: words, a color, a picture."""
    said = request.GET
    target, picture = said.get("target", ""), said.get("picture", "")
    wish = {
        "note": said.get("wish", "")[:300],
        "target": target if chip.HEX.fullmatch(target) else "",
        "picture": int(picture) if picture.isascii() and picture.isdecimal() else 0,
    }
    return wish if any(wish.values()) else {}


@require_http_methods(["GET", "HEAD", "POST"])
def recipe_revise(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Recipe, pk=pk)
    data = request.POST if request.method == "POST" else None
    newest = found.versions.order_by("-number").select_related("recipe").first()
    grades = list(queries_colors.grades([newest.grade_id]))
    form = forms.ReviseForm(data, named=False, grades=grades, initial=_as_typed(newest))
    poured = _poured(request, found)
    real = batches.doses_per(poured, newest.reference_ml) if poured else None
    rows, others = forms.dose_rows(data, newest, real=real), forms.stand_in_rows(data, newest)
    if _clear(data, form, rows, others):
        facts = form.facts()
        looked_at = found.versions.filter(pk=facts.pop("version")).first() or newest
        try:
            version = recipes.revise(
                looked_at,
                doses=[row.spec() for row in rows.filled],
                stand_ins=[row.spec() for row in others.filled],
                **facts,
            )
        except Refusal as error:
            lines.show_refusal(error, form, rows)
        else:
            messages.success(request, f"{found} is now at version {version.number}.")
            return redirect("production:recipe", pk=found.pk)
    context = {
        "form": form,
        "rows": rows,
        "others": others,
        "grades": grades,
        "recipe": found,
        "poured": poured,
        "newest": newest,
        "next_number": newest.number + 1 if recipes.is_used(newest) else newest.number,
        "used": recipes.is_used(newest),
    }
    return _shown(request, "production/recipe_form.html", context)


def _poured(request: HttpRequest, recipe: Recipe) -> Batch | None:
    """The batch of this recipe whose real doses are to become the next version."""
    pk = request.GET.get("batch", "")
    if not pk.isdecimal() or len(pk) > 17:
        return None
    standing = Batch.objects.filter(entry__reversed_by=None, version__recipe=recipe)
    return standing.select_related("lot__item", "pour", "version__recipe").filter(pk=pk).first()


def _as_typed(version: RecipeVersion) -> dict[str, object]:
    return {
        "grade": str(version.grade_id),
        "reference": version.reference_said,
        "notes": version.notes,
        "version": version.pk,
    }


@require_http_methods(["GET", "HEAD", "POST"])
def pattern_new(request: HttpRequest) -> HttpResponse:
    data = request.POST if request.method == "POST" else None
    versions = list(queries_colors.newest_versions())
    form = forms.LaminateForm(data, versions=versions)
    if data is not None and form.is_valid():
        try:
            made = recipes.laminate(name=form.cleaned_data["name"], layers=form.layers())
        except Refusal as error:
            lines.show_refusal(error, form)
        else:
            messages.success(request, f"{made} is kept.")
            return redirect("production:pattern", pk=made.pk)
    return _shown(request, "production/pattern_form.html", {"form": form, "versions": versions})


@require_http_methods(["GET", "HEAD", "POST"])
def pattern(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(queries_colors.patterns_with_colors(), pk=pk)
    if request.method == "POST":
        recipes.put_away(found, archived=request.POST.get("archived") == "1")
        return redirect("production:pattern", pk=pk)
    layers = list(found.layers.all())
    contents = ProductContent.objects.filter(pattern=found)
    context = {
        "pattern": found,
        "layers": [
            (layer, wording.share(layer.share), dose_table.dose_lines(layer.version))
            for layer in layers
        ],
        "grades": {layer.version.grade_id for layer in layers},
        "contents": contents.select_related("product__item", "bait"),
        "loose": queries_colors.loose_baits(found),
    }
    return render(request, "production/pattern.html", context)


def _shown(request: HttpRequest, template: str, context: dict) -> HttpResponse:
    """The form's page: 422 when it comes back with something to mend."""
    return render(request, template, context, status=422 if request.method == "POST" else 200)
