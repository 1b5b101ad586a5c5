from django.http import Http404



def suppliers(request, **kwargs):
    raise Http404


def supplier_new(request, **kwargs):
    raise Http404


def supplier_edit(request, **kwargs):
    raise Http404


def pack_new(request, **kwargs):
    raise Http404


def pack_delete(request, **kwargs):
    raise Http404
