from django.http import Http404



def entry(request, **kwargs):
    raise Http404


def entry_undo(request, **kwargs):
    raise Http404
