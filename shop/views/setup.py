"""Setting the shop up: its facts, its people, its places."""

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_safe

from inventory.forms_base import save_or_errors
from inventory.models import Place
from shop import forms
from shop.models import Shop, User
from shop.services import identity, people
from shop.views import posted


@require_safe
def setup(request: HttpRequest) -> HttpResponse:
    return render(
        request,
        "shop/setup.html",
        {
            "people": User.objects.order_by("-is_active", "role", "username"),
            "places": Place.objects.all(),
        },
    )


@require_http_methods(["GET", "HEAD", "POST"])
def shop_edit(request: HttpRequest) -> HttpResponse:
    form = forms.IdentityForm(posted(request), instance=get_object_or_404(Shop))
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, "The shop's facts are saved.")
        return redirect("setup")
    return _form_page(request, form, "The shop's facts", "Save")


@require_http_methods(["GET", "HEAD", "POST"])
def shop_logo(request: HttpRequest) -> HttpResponse:
    """The picture at the head of the papers: set, replaced or removed."""
    shop = get_object_or_404(Shop.objects.select_related("logo"))
    form = forms.LogoForm(posted(request), request.FILES or None)
    if request.method == "POST" and request.POST.get("to") == "remove":
        identity.remove_logo()
        messages.success(request, "The logo is removed.")
        return redirect("setup")
    if (
        request.method == "POST"
        and form.is_valid()
        and save_or_errors(form, identity.set_logo, file=form.cleaned_data["file"], by=request.user)
    ):
        messages.success(request, "The logo is kept. It stands at the head of the papers.")
        return redirect("setup")
    context = {"form": form, "logo": shop.logo}
    return render(request, "shop/logo.html", context, status=422 if form.errors else 200)


@sensitive_post_parameters()
@require_http_methods(["GET", "HEAD", "POST"])
def person_new(request: HttpRequest) -> HttpResponse:
    form = forms.NewPersonForm(posted(request))
    if request.method == "POST" and form.is_valid():
        person = people.add(**form.cleaned_data)
        messages.success(request, f"{person} can sign in now.")
        return redirect("setup")
    return _form_page(request, form, "Add a person", "Add")


@sensitive_post_parameters()
@require_http_methods(["GET", "HEAD", "POST"])
def person_edit(request: HttpRequest, pk: int) -> HttpResponse:
    person = get_object_or_404(User, pk=pk)
    facts = {"role": person.role, "active": person.is_active}
    form = forms.PersonForm(posted(request), person=person, initial=facts)
    if request.method == "POST" and form.is_valid():
        try:
            changed = people.change(person, **form.cleaned_data, by=request.user)
        except people.PeopleError as error:
            form.add_error(None, str(error))
        else:
            if changed.pk == request.user.pk:
                update_session_auth_hash(request, changed)
            messages.success(request, f"{changed} is saved.")
            return redirect("setup" if changed.is_owner or changed != request.user else "tonight")
    return _form_page(request, form, person.get_username(), "Save")


@require_http_methods(["GET", "HEAD", "POST"])
def place_new(request: HttpRequest) -> HttpResponse:
    form = forms.PlaceForm(posted(request))
    if request.method == "POST" and form.is_valid():
        messages.success(request, f"{form.save()} is added.")
        return redirect("setup")
    return _form_page(request, form, "Add a place", "Add")


def _form_page(request: HttpRequest, form, title: str, button: str) -> HttpResponse:
    page = {"form": form, "title": title, "button": button}
    status = 422 if form.is_bound else 200
    return render(request, "shop/setup_form.html", page, status=status)
