from django.http import Http404



def customers(request, **kwargs):
    raise Http404


def customer_new(request, **kwargs):
    raise Http404


def customer(request, **kwargs):
    raise Http404
