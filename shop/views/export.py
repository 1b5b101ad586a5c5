"""Take everything with you: one workbook, or an archive of CSV files."""

import tempfile
from collections.abc import Callable

from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory.exchange import writing
from shop import exports

#: Bytes of a file that needs no place on disk.
_IN_MEMORY = 4_000_000


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
    """The file, made whole before it is sent; a long ledger's lies on disk and needs no memory."""
    name = f"everything-{timezone.localdate()}.{end}"
    if request.method == "HEAD":
        # Whoever asks for the head alone needs no file made.
        return HttpResponse(content_type=kind)
    # The response closes it, and with that the system deletes it.
    out = tempfile.SpooledTemporaryFile(max_size=_IN_MEMORY)  # noqa: SIM115
    try:
        write(exports.sheets(), out)
        out.seek(0)
    except BaseException:
        out.close()
        raise
    return FileResponse(out, as_attachment=True, filename=name, content_type=kind)
