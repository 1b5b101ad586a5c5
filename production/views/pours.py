from django.http import Http404



def pours(request, **kwargs):
    raise Http404


def pour_start(request, **kwargs):
    raise Http404


def pour(request, **kwargs):
    raise Http404


def pour_close(request, **kwargs):
    raise Http404


def pour_sheet(request, **kwargs):
    raise Http404
