"""A paper evening, entered afterwards as one table: looked at first, then posted at once."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from inventory import forms_base
from production.forms import paper
from production.services import paper_evening as service

UNREADY = 422
LOOK, POST, MORE = "look", "post", "more"


@require_http_methods(["GET", "HEAD", "POST"])
def pour_paper(request: HttpRequest) -> HttpResponse:
    sent = request.POST if request.method == "POST" else None
    press = request.POST.get("press", LOOK)
    form = paper.PaperForm(sent)
    shelf = paper.Shelf(getattr(request.shop, "units", "us"))
    rows = paper.PaperRows(sent, count=_rows(request, press), shelf=shelf)
    understood = None
    if sent and press != MORE and _valid(form, rows):
        facts = {"began": form.cleaned_data["began"], "rows": rows.rows(), "by": request.user}
        if press == POST:
            entry = forms_base.post_or_errors(
                form, service.enter, note=form.cleaned_data["note"], gear=form.gear, **facts
            )
            if entry:
                messages.success(request, "The evening is entered.")
                return redirect("production:pour", entry.batch.pour_id)
        else:
            understood = service.preview(**facts)
    wrong = press != MORE and bool(sent) and (form.errors or rows.has_errors)
    return render(
        request,
        "production/pour_paper.html",
        {"form": form, "rows": rows, "understood": understood, "checked": sent and press != MORE},
        status=UNREADY if wrong else 200,
    )


def _rows(request: HttpRequest, press: str) -> int:
    count = request.POST.get("count", "")
    shown = int(count) if count.isdecimal() and len(count) < 4 else paper.ROWS
    shown = max(paper.ROWS, shown) + paper.ROWS * (press == MORE)
    return min(paper.MOST_ROWS, shown)


def _valid(form: paper.PaperForm, rows: paper.PaperRows) -> bool:
    # Both are checked, so that all that is wrong shows at once.
    if not all([form.is_valid(), rows.is_valid()]):
        return False
    return not rows.doubts or form.question(f"{rows.doubts} Yes, really?")
