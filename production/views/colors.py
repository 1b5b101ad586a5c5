from django.http import Http404



def colors(request, **kwargs):
    raise Http404


def recipe_new(request, **kwargs):
    raise Http404


def recipe(request, **kwargs):
    raise Http404


def recipe_revise(request, **kwargs):
    raise Http404


def pattern_new(request, **kwargs):
    raise Http404


def pattern(request, **kwargs):
    raise Http404
