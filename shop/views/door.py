from django.http import Http404



def welcome(request, **kwargs):
    raise Http404
from django.contrib.auth.views import LoginView


class SignIn(LoginView):
    pass




def sign_out(request, **kwargs):
    raise Http404
