"""Take everything with you: one workbook, or an archive of CSV files."""

import os
import tempfile
from collections.abc import Callable, Iterator

from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory.exchange import writing
from shop import exports

#: Bytes sent at a time.
_PIECE = 64 * 1024


@require_safe
def take_away(request: HttpRequest) -> HttpResponse:
    return render(request, "shop/take_away.html", {"sheets": exports.sheets()})


@require_safe
def workbook(request: HttpRequest) -> HttpResponse:
    kind = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
    return _sent(request, writing.write_xlsx, "xlsx", kind)


@require_safe
def archive(request: HttpRequest) -> HttpResponse:
    return _sent(request, writing.write_zip, "zip", "application/zip")


def _sent(request: HttpRequest, write: Callable, end: str, kind: str) -> HttpResponse:
    if request.method == "HEAD":
        # Whoever asks for the head alone needs no file made.
        return HttpResponse(content_type=kind)
    pieces = _pieces(write)
    size = next(pieces)
    response = StreamingHttpResponse(pieces, content_type=kind)
    response["Content-Length"] = size
    name = f"everything-{timezone.localdate()}.{end}"
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


def _pieces(write: Callable) -> Iterator[int | bytes]:
    """The file's size, then the file, piece by piece; it lies on disk, so that a long ledger needs no
    memory, and is gone when the last piece was taken or the reader went away."""
    with tempfile.TemporaryFile() as out:
        write(exports.sheets(), out)
        yield out.seek(0, os.SEEK_END)
        out.seek(0)
        while piece := out.read(_PIECE):
            yield piece
