"""Take everything with you: one workbook, or an archive of CSV files. Both go out while they are written."""

from collections.abc import Callable, Iterator

from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory.exchange import writing
from shop import exports


@require_safe
def take_away(request: HttpRequest) -> HttpResponse:
    return render(request, "shop/take_away.html", {"sheets": exports.sheets()})


@require_safe
def workbook(request: HttpRequest) -> HttpResponse:
    kind = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
    return _sent(request, writing.xlsx_pieces, "xlsx", kind)


@require_safe
def archive(request: HttpRequest) -> HttpResponse:
    return _sent(request, writing.zip_pieces, "zip", "application/zip")


def _sent(
    request: HttpRequest, pieces: Callable[[list], Iterator[bytes]], end: str, kind: str
) -> HttpResponse:
    if request.method == "HEAD":
        # Whoever asks for the head alone needs no file made.
        return HttpResponse(content_type=kind)
    response = StreamingHttpResponse(pieces(exports.sheets()), content_type=kind)
    name = f"everything-{timezone.localdate()}.{end}"
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response
