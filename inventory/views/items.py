from django.http import Http404



def item_new(request, **kwargs):
    raise Http404


def item(request, **kwargs):
    raise Http404


def item_edit(request, **kwargs):
    raise Http404
