"""The door: the first run, signing in and signing out."""

import math

from django.contrib import messages
from django.contrib.auth import login, logout
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from shop import forms, kept, throttle
from shop.services import opening_day
from shop.views import posted

BACKEND = "django.contrib.auth.backends.ModelBackend"


@sensitive_post_parameters()
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def welcome(request: HttpRequest) -> HttpResponse:
    if opening_day.set_up_already():
        raise Http404
    given = request.POST.get("code") or request.GET.get("code", "")
    if not given or not opening_day.code_opens(given):
        return _ask_for_code(request, wrong=bool(given))
    sent = posted(request)
    demo = bool(sent and sent.get("start") == "demo")
    account = forms.AccountForm(sent, prefix="you")
    opening = forms.OpeningForm(None if demo else sent, prefix="shop")
    if sent and account.is_valid() and (demo or opening.is_valid()):
        return _open(request, account.cleaned_data, None if demo else opening.cleaned_data)
    page = {"account": account, "opening": opening, "code": given}
    return render(request, "shop/welcome.html", page, status=422 if sent else 200)


def _ask_for_code(request: HttpRequest, *, wrong: bool) -> HttpResponse:
    if not opening_day.code_is_there():
        # Gone after too many wrong ones, or this server was started in another way.
        return render(request, "shop/welcome_no_code.html", status=429 if wrong else 403)
    page = {"wrong": wrong, "most": opening_day.MOST_TRIES}
    return render(request, "shop/welcome_code.html", page, status=403)


def _open(request: HttpRequest, account: dict, facts: dict | None) -> HttpResponse:
    sign_in = {"username": account["username"], "password": account["password"]}
    try:
        if facts is None:
            owner = opening_day.open_demo(**sign_in)
        else:
            owner = opening_day.open_shop(**facts, **sign_in)
    except opening_day.AlreadyOpen as error:
        raise Http404 from error
    opening_day.forget_code()
    login(request, owner, backend=BACKEND)
    messages.success(request, "The shop is open. Welcome.")
    return redirect("tonight")


class SignIn(LoginView):
    """With `kept` in the form, what was typed before the sign-in lapsed is offered after it."""

    template_name = "shop/sign_in.html"
    redirect_authenticated_user = True

    def dispatch(self, request: HttpRequest, *args, **kwargs) -> HttpResponse:
        if not opening_day.set_up_already():
            return redirect("welcome")
        return super().dispatch(request, *args, **kwargs)

    def form_valid(self, form) -> HttpResponse:
        answer = super().form_valid(form)
        found = kept.unpack(self.request.POST.get("kept", ""))
        if found is None:
            return answer
        return render(self.request, "shop/kept.html", {"kept": found})

    def form_invalid(self, form) -> HttpResponse:
        return self.render_to_response(self.get_context_data(form=form), status=422)

    def get_context_data(self, **context) -> dict:
        carried = self.request.POST.get("kept", "")
        return super().get_context_data(kept=carried if kept.unpack(carried) else "", **context)


def sign_in_again(request: HttpRequest) -> HttpResponse:
    """The sign-in page in answer to a form that was sent signed out; it keeps what was typed."""
    carried = kept.pack(request)
    page = {
        "form": AuthenticationForm(request),
        "kept": carried,
        "lost": not carried,
        # A form's address can be read too; a button's often can't.
        "next": request.get_full_path() if carried else "",
    }
    return render(request, "shop/sign_in.html", page, status=401)


def signed_out_fragment(request: HttpRequest) -> HttpResponse:
    """In answer to a page's own asking: words and a link, and no more asking."""
    here = request.htmx.current_url_abs_path or "/"
    page = {"next": here, "press": request.method == "POST"}
    # 286 ends the asking; 401 is shown too (base.html), and a press may be tried again.
    answer = render(
        request, "shop/_signed_out.html", page, status=401 if request.method == "POST" else 286
    )
    answer.headers["HX-Retarget"] = "#messages"
    answer.headers["HX-Reswap"] = "outerHTML"
    return answer


def locked_out(request: HttpRequest, response: HttpResponse, credentials: dict) -> HttpResponse:
    """What axes answers after too many wrong passwords: how long to wait, and what else to do."""
    wait = throttle.wait(request, credentials)
    minutes = math.ceil(wait.total_seconds() / 60)
    answer = render(request, "shop/locked_out.html", {"minutes": minutes}, status=429)
    answer.headers["Retry-After"] = math.ceil(wait.total_seconds())  # RFC 9110, 10.2.3
    return answer


@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    logout(request)
    return redirect("sign_in")
