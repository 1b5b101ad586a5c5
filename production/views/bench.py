from django.http import Http404



def batch_new(request, **kwargs):
    raise Http404


def batch_mix(request, **kwargs):
    raise Http404


def shots_new(request, **kwargs):
    raise Http404


def leftover(request, **kwargs):
    raise Http404
