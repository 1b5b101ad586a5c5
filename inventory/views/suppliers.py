"""Who sells what: suppliers, and the packs of an item."""

from django.contrib import messages
from django.db.models import Count
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from inventory import deliveries, forms_base, forms_suppliers, lead_times, price_breaks
from inventory.models import Item, Pack, Supplier
from inventory.services import suppliers as writing
from inventory.views import paging

FACTS = [
    "name",
    "email",
    "phone",
    "lead_time_days",
    "order_minimum_minor",
    "shipping_minor",
    "free_shipping_minor",
    "notes",
]


@require_http_methods(["GET", "HEAD"])
def suppliers(request: HttpRequest) -> HttpResponse:
    found = Supplier.objects.annotate(pack_count=Count("packs")).order_by("name")
    context = {"page_obj": paging.page(request, found)}
    return render(request, "inventory/suppliers.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def supplier_new(request: HttpRequest) -> HttpResponse:
    form = forms_suppliers.SupplierForm(paging.posted(request))
    if request.method == "POST" and form.is_valid():
        supplier = forms_base.save_or_errors(form, writing.add_supplier, **form.facts())
        if supplier:
            messages.success(request, f"{supplier.name} is on the list.")
            return redirect("inventory:suppliers")
    return paging.render_form(request, "inventory/supplier_form.html", form)


@require_http_methods(["GET", "HEAD", "POST"])
def supplier_edit(request: HttpRequest, pk: int) -> HttpResponse:
    supplier = get_object_or_404(Supplier, pk=pk)
    initial = {name: getattr(supplier, name) for name in FACTS}
    form = forms_suppliers.SupplierForm(paging.posted(request), initial=initial)
    if (
        request.method == "POST"
        and form.is_valid()
        and forms_base.save_or_errors(form, writing.change_supplier, supplier, **form.facts())
    ):
        messages.success(request, "Saved.")
        return redirect("inventory:suppliers")
    packs = Pack.objects.filter(supplier=supplier).select_related("item").order_by("item__name")
    return paging.render_form(
        request,
        "inventory/supplier_form.html",
        form,
        name=initial["name"],
        supplier=supplier,
        seen=_seen(supplier),
        packs=packs[: paging.ROWS],
    )


@require_POST
def supplier_lead(request: HttpRequest, pk: int) -> HttpResponse:
    """The days that its deliveries took become the supplier's."""
    supplier = get_object_or_404(Supplier, pk=pk)
    if seen := _seen(supplier):
        writing.change_supplier(supplier, lead_time_days=seen.days)
        messages.success(request, f"{supplier} now counts with {seen.days} days.")
    return redirect("inventory:supplier_edit", pk)


def _seen(supplier: Supplier) -> lead_times.Seen | None:
    found = deliveries.lead_times_seen(timezone.localdate(), [supplier.pk])
    return found.get(supplier.pk)


@require_http_methods(["GET", "HEAD", "POST"])
def pack_new(request: HttpRequest, pk: int) -> HttpResponse:
    item = get_object_or_404(Item.objects.filter(kind__in=Item.BOUGHT), pk=pk)
    form = forms_suppliers.PackForm(paging.posted(request), item=item)
    if request.method == "POST" and form.is_valid():
        pack = forms_base.save_or_errors(form, writing.add_pack, item=item, **form.facts())
        if pack:
            messages.success(request, f"{item.name} comes as {pack}.")
            return redirect("inventory:item", pk)
    return paging.render_form(
        request,
        "inventory/pack_form.html",
        form,
        item=item,
        no_suppliers=not Supplier.objects.exists(),
    )


@require_http_methods(["GET", "HEAD", "POST"])
def pack_edit(request: HttpRequest, pk: int) -> HttpResponse:
    pack = get_object_or_404(Pack.objects.select_related("item", "supplier"), pk=pk)
    initial = {
        "supplier": pack.supplier_id,
        **{name: getattr(pack, name) for name in ("name", "quantity", "price_minor", "least")},
        "breaks": price_breaks.show(pack.breaks.values_list("from_packs", "price_minor")),
    }
    form = forms_suppliers.PackForm(paging.posted(request), item=pack.item, initial=initial)
    if (
        request.method == "POST"
        and form.is_valid()
        and forms_base.save_or_errors(form, writing.change_pack, pack, **form.facts())
    ):
        messages.success(request, "Saved.")
        return redirect("inventory:item", pack.item_id)
    return paging.render_form(
        request, "inventory/pack_form.html", form, item=pack.item, pack=pack, was=initial["name"]
    )


@require_http_methods(["GET", "HEAD", "POST"])
def pack_delete(request: HttpRequest, pk: int) -> HttpResponse:
    pack = get_object_or_404(Pack.objects.select_related("item", "supplier"), pk=pk)
    if request.method == "POST":
        item = pack.item
        writing.drop_pack(pack)
        messages.success(request, f"{item.name} no longer comes as {pack}.")
        return redirect("inventory:item", item.pk)
    return render(request, "inventory/pack_delete.html", {"pack": pack})
