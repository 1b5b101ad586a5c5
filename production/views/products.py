"""Products: what goes into a bag."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from inventory import units
from production import printing, queries, queries_colors
from production.forms import products as forms
from production.forms import rows as lines
from production.models import Product
from production.services import products as keeping
from production.services.refusals import Refusal

PAGE = 50


@require_safe
def products(request: HttpRequest) -> HttpResponse:
    away = request.GET.get("away") == "1"
    found = queries_colors.products().filter(item__archived=away)
    page = Paginator(found, PAGE).get_page(request.GET.get("page"))
    context = {"page_obj": page, "away": away, "query": "away=1&" if away else ""}
    return render(request, "production/products.html", context)


@require_safe
def product(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(queries_colors.products(), pk=pk)
    usual = printing.usual(request.shop)
    context = {
        "product": found,
        "could_bag": queries.most_bags(found),
        "checks": printing.checks(found, usual, request.shop),
        "usual": usual,
    }
    return render(request, "production/product.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def product_new(request: HttpRequest) -> HttpResponse:
    return _product_form(request, None)


@require_http_methods(["GET", "HEAD", "POST"])
def product_edit(request: HttpRequest, pk: int) -> HttpResponse:
    return _product_form(request, get_object_or_404(queries_colors.products(), pk=pk))


def _product_form(request: HttpRequest, product: Product | None) -> HttpResponse:
    data = request.POST if request.method == "POST" else None
    form = forms.ProductForm(data, exists=product is not None, initial=_as_typed(product))
    contents = forms.content_rows(data, product)
    packaging = forms.packaging_rows(data, product)
    steps = forms.step_rows(data, product)
    if data is not None and all(
        [form.is_valid(), contents.is_valid(), packaging.is_valid(), steps.is_valid()]
    ):
        facts = {
            **form.facts(),
            "contents": [row.spec() for row in contents.filled],
            "packaging": [row.spec() for row in packaging.filled],
            "finishing": [row.spec() for row in steps.filled],
        }
        try:
            kept = keeping.update(product, **facts) if product else keeping.create(**facts)
        except Refusal as error:
            rows = packaging if error.field == "item" else contents
            lines.show_refusal(error, form, rows)
        else:
            messages.success(request, f"{kept} is kept.")
            return redirect("production:product", pk=kept.pk)
    context = {
        "form": form,
        "contents": contents,
        "packaging": packaging,
        "steps": steps,
        "product": product,
    }
    return render(
        request, "production/product_form.html", context, status=200 if data is None else 422
    )


def _as_typed(product: Product | None) -> dict[str, object]:
    if product is None:
        return {}
    return {
        "name": product.item.name,
        "price_minor": product.price_minor,
        "barcode": product.barcode,
        "least_bags": product.item.minimum // units.MICRO or "",
        "archived": product.item.archived,
        "second": product.second,
        **{name: getattr(product, name) for name in forms.ProductForm.WORDS},
    }
