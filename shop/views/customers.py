"""Customers: the list, and one customer with what they ordered."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Count, Max, Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.http import urlencode
from django.views.decorators.http import require_http_methods, require_safe

from shop import forms, queries
from shop.models import ColorRequest, Customer
from shop.views import PER_PAGE, posted

#: Products on a customer's page; the rest is on the pages of the orders.
MOST_BOUGHT = 30


@require_safe
def customers(request: HttpRequest) -> HttpResponse:
    # PostgreSQL knows no NUL in text.
    text = request.GET.get("q", "").replace("\0", "").strip()
    found = Customer.objects.annotate(
        order_count=Count("orders"), last=Max("orders__ordered_on")
    ).order_by("name")
    if text:
        found = found.filter(Q(name__icontains=text) | Q(email__icontains=text))
    page = Paginator(found, PER_PAGE).get_page(request.GET.get("page"))
    query = f"{urlencode({'q': text})}&" if text else ""
    return render(request, "shop/customers.html", {"page_obj": page, "text": text, "query": query})


@require_http_methods(["GET", "HEAD", "POST"])
def customer_new(request: HttpRequest) -> HttpResponse:
    form = forms.CustomerForm(posted(request))
    if request.method == "POST" and form.is_valid():
        return redirect("customer", pk=form.save().pk)
    status = 422 if form.is_bound else 200
    return render(request, "shop/customer_new.html", {"form": form}, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
def customer(request: HttpRequest, pk: int) -> HttpResponse:
    person = get_object_or_404(Customer, pk=pk)
    name = person.name
    form = forms.CustomerForm(posted(request), instance=person)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, f"{person} is saved.")
        return redirect("customer", pk=pk)
    orders = queries.orders().filter(customer=pk).order_by("-ordered_on", "-id")
    orders = orders.annotate(total_bags=queries.TOTAL_BAGS, total_minor=queries.TOTAL_MINOR)
    page = {
        "name": name,
        "pk": pk,
        "form": form,
        "bought": queries.bought(pk)[:MOST_BOUGHT],
        "wishes": ColorRequest.objects.filter(customer=pk).select_related("customer", "trial")[
            :PER_PAGE
        ],
        "page_obj": Paginator(orders, PER_PAGE).get_page(request.GET.get("page")),
    }
    return render(request, "shop/customer.html", page, status=422 if form.is_bound else 200)
