"""Pictures of a mold: adding and removing them."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from inventory import forms_base, forms_files
from inventory.views import paging
from production.models import Mold, MoldPicture
from production.services import pictures


@require_http_methods(["GET", "HEAD", "POST"])
def mold_picture_new(request: HttpRequest, pk: int) -> HttpResponse:
    mold = get_object_or_404(Mold, pk=pk)
    form = forms_files.PictureForm(paging.posted(request), request.FILES or None)
    if request.method == "POST" and form.is_valid():
        kept = forms_base.save_or_errors(
            form, pictures.add, mold=mold, by=request.user, **form.cleaned_data
        )
        if kept:
            messages.success(request, f"{kept.file.name} is kept with {mold.name}.")
            return redirect("production:mold", pk)
    return paging.render_form(request, "production/mold_picture_form.html", form, mold=mold)


@require_http_methods(["GET", "HEAD", "POST"])
def mold_picture_remove(request: HttpRequest, pk: int) -> HttpResponse:
    picture = get_object_or_404(MoldPicture.objects.select_related("mold", "file"), pk=pk)
    if request.method == "POST":
        pictures.remove(picture)
        messages.success(request, f"{picture.file.name} is removed.")
        return redirect("production:mold", picture.mold_id)
    return render(request, "production/mold_picture_remove.html", {"picture": picture})
