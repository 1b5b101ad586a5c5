from django.http import Http404



def labels(request, **kwargs):
    raise Http404


def labels_pdf(request, **kwargs):
    raise Http404
