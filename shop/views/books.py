from django.http import Http404



def books(request, **kwargs):
    raise Http404
