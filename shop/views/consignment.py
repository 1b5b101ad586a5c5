"""Bags that someone else sells for us: what lies where, settled by count. For the owner."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from inventory import at_place, forms_moving
from inventory.forms_base import post_or_errors
from inventory.models import Item
from inventory.views import paging
from inventory.views.buying import as_file, paper
from shop import consignment as reading
from shop import forms_stall as forms
from shop import stall, stall_papers
from shop.models import Consignee, Sale
from shop.services import consigning as service
from shop.services import selling
from shop.views import posted

#: Settlements listed with a consignee.
RECENT = 20


@require_safe
def consignment(request: HttpRequest) -> HttpResponse:
    return render(request, "shop/consignment.html", {"rows": reading.overview()})


@require_http_methods(["GET", "HEAD", "POST"])
def consignee_new(request: HttpRequest) -> HttpResponse:
    form = forms.ConsigneeForm(posted(request))
    if request.method == "POST" and form.is_valid():
        return redirect("consignee", service.save(None, **form.facts()).pk)
    return paging.render_form(request, "shop/consignee_form.html", form)


@require_http_methods(["GET", "HEAD", "POST"])
def consignee_edit(request: HttpRequest, pk: int) -> HttpResponse:
    found = _consignee(pk)
    facts = {
        "customer": found.customer_id,
        "place_name": found.place.name,
        "commission": found.commission_percent.normalize(),
        "price_list": found.price_list_id,
    }
    form = forms.ConsigneeForm(posted(request), consignee=found, initial=facts)
    if request.method == "POST" and form.is_valid():
        service.save(found, **form.facts())
        return redirect("consignee", pk)
    return paging.render_form(request, "shop/consignee_form.html", form, consignee=found)


@require_safe
def consignee(request: HttpRequest, pk: int) -> HttpResponse:
    found = _consignee(pk)
    rows = stall.rows_at(found.place, found.price_list)
    context = {
        "consignee": found,
        "rows": rows,
        "bags": sum(row.left for row in rows),
        "value_minor": sum(row.value_minor for row in rows),
        "settlements": reading.settlements(found)[:RECENT],
    }
    return render(request, "shop/consignee.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def consignee_bring(request: HttpRequest, pk: int) -> HttpResponse:
    """Bags from home to the consignee, the oldest first."""
    found = _consignee(pk)
    heaps = at_place.movable(None, Item.Kind.BAGGED)
    form = forms_moving.HeapsForm(posted(request), heaps=heaps)
    facts = {"place": found.place, "reference": f"consignee:{pk}", "by": request.user}
    if request.method == "POST" and form.is_valid() and forms_moving.move_or_errors(form, **facts):
        messages.success(request, f"Brought to {found.place}.")
        return redirect("consignee", pk)
    return paging.render_form(request, "shop/consignee_bring.html", form, consignee=found)


@require_http_methods(["GET", "HEAD", "POST"])
def consignee_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Bags that come home from the consignee."""
    found = _consignee(pk)
    form = forms.BringForm(posted(request), heaps=at_place.movable(found.place, Item.Kind.BAGGED))
    if request.method == "POST" and form.is_valid():
        place = form.cleaned_data["place"]
        facts = {"place": place, "reference": f"consignee:{pk}", "by": request.user}
        if forms_moving.move_or_errors(form, **facts):
            messages.success(request, f"Back at {place or 'home'}.")
            return redirect("consignee", pk)
    return paging.render_form(request, "shop/consignee_back.html", form, consignee=found)


@require_http_methods(["GET", "HEAD", "POST"])
def consignee_settle(request: HttpRequest, pk: int) -> HttpResponse:
    """Counts what is left; what is missing was sold."""
    found = _consignee(pk)
    rows = stall.rows_at(found.place, found.price_list)
    form = forms.SettleForm(posted(request), rows=rows, consignee=found)
    if request.method == "POST" and form.is_valid():
        facts = {"consignee": found, "counted": form.counted, "by": request.user}
        if entry := post_or_errors(form, selling.settle, **facts):
            if sale := Sale.objects.filter(entry=entry).first():
                return redirect("settlement", sale.pk)
            messages.success(request, "Counted. Nothing was sold.")
            return redirect("consignee", pk)
    return paging.render_form(request, "shop/consignee_settle.html", form, consignee=found)


@require_safe
def settlement(request: HttpRequest, pk: int) -> HttpResponse:
    sale = _settlement(pk)
    sold = stall.sold_rows(sale=sale)
    total = sum(row.sum_minor for row in sold)
    context = {
        "sale": sale,
        "sold": sold,
        "total_minor": total,
        "due_minor": total - sale.commission_minor,
        "consignee": reading.consignee_of(sale),
    }
    return render(request, "shop/settlement.html", context)


@require_safe
def settlement_pdf(request: HttpRequest, pk: int) -> HttpResponse:
    sale = _settlement(pk)
    data = stall_papers.settlement(
        sale, reading.consignee_of(sale), request.shop, paper=paper(request)
    )
    return as_file(data, "application/pdf", f"settlement-{pk}.pdf", "inline")


def _consignee(pk: int) -> Consignee:
    found = Consignee.objects.select_related("place", "customer", "price_list")
    return get_object_or_404(found, pk=pk)


def _settlement(pk: int) -> Sale:
    found = Sale.objects.filter(how=Sale.How.SETTLED)
    found = found.select_related("entry__reversed_by", "place", "customer")
    return get_object_or_404(found, pk=pk)
