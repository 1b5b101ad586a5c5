from django.http import Http404



def products(request, **kwargs):
    raise Http404


def product_new(request, **kwargs):
    raise Http404


def product(request, **kwargs):
    raise Http404


def product_edit(request, **kwargs):
    raise Http404
