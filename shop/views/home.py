from django.http import Http404



def tonight(request, **kwargs):
    raise Http404


def burn(request, **kwargs):
    raise Http404


def forbidden(request, exception=None):
    raise Http404


def not_found(request, exception=None):
    raise Http404


def failed(request):
    raise Http404
