from django.http import Http404



def receive(request, **kwargs):
    raise Http404
