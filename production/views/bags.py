from django.http import Http404



def bags(request, **kwargs):
    raise Http404


def bag(request, **kwargs):
    raise Http404


def bagging(request, **kwargs):
    raise Http404
