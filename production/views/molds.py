from django.http import Http404



def cups(request, **kwargs):
    raise Http404


def cup_new(request, **kwargs):
    raise Http404


def cup_edit(request, **kwargs):
    raise Http404


def bait_new(request, **kwargs):
    raise Http404


def bait_edit(request, **kwargs):
    raise Http404


def molds(request, **kwargs):
    raise Http404


def mold_new(request, **kwargs):
    raise Http404


def mold(request, **kwargs):
    raise Http404


def mold_edit(request, **kwargs):
    raise Http404
