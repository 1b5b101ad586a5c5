from django.http import Http404



def shelf(request, **kwargs):
    raise Http404


def lot(request, **kwargs):
    raise Http404


def count(request, **kwargs):
    raise Http404


def waste(request, **kwargs):
    raise Http404
