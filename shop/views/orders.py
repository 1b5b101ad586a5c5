from django.http import Http404



def orders(request, **kwargs):
    raise Http404


def order_new(request, **kwargs):
    raise Http404


def order(request, **kwargs):
    raise Http404


def order_edit(request, **kwargs):
    raise Http404


def order_ship(request, **kwargs):
    raise Http404


def order_cancel(request, **kwargs):
    raise Http404
