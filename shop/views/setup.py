from django.http import Http404



def setup(request, **kwargs):
    raise Http404


def shop_edit(request, **kwargs):
    raise Http404


def person_new(request, **kwargs):
    raise Http404


def person_edit(request, **kwargs):
    raise Http404


def place_new(request, **kwargs):
    raise Http404
