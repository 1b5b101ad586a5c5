from django.http import Http404



def opening(request, **kwargs):
    raise Http404


def template(request, **kwargs):
    raise Http404
