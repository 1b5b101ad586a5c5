from django.http import Http404



def buying(request, **kwargs):
    raise Http404


def pdf(request, **kwargs):
    raise Http404


def csv(request, **kwargs):
    raise Http404
