"""The door: who may open which page, and the shop's own clock."""

import zoneinfo

from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone

from shop import access
from shop.models import Shop, User
from shop.views import door


class AccessMiddleware:
    """Default is shut: a page not named in access.PAGES opens for the owner only."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(self, request: HttpRequest, view, args, kwargs) -> HttpResponse | None:
        name = request.resolver_match.view_name
        if access.is_public(name):
            return None
        if not request.user.is_authenticated:
            if not User.objects.exists():
                return redirect("welcome")
            return _signed_out(request)
        if not access.may(request.user, name, request.method):
            raise PermissionDenied
        return None


def _signed_out(request: HttpRequest) -> HttpResponse:
    """To the sign-in page, which keeps what was typed; a page that asks by itself is told in words."""
    if request.htmx:
        return door.signed_out_fragment(request)
    if request.method == "POST" and request.resolver_match.view_name != "sign_out":
        return door.sign_in_again(request)
    return redirect_to_login(request.get_full_path())


class StaySignedInMiddleware:
    """A session that is used lasts on from the day of its last use, so none lapses during a pour.

    Written once a day only: a device that asks every few seconds must cost no writing."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.user.is_authenticated:
            note_use(request)
        return self.get_response(request)


def note_use(request: HttpRequest, **_signal) -> None:
    """Notes the day in the session, at sign-in and with the first request of each later day."""
    today = timezone.now().date().isoformat()
    if request.session.get("used_on") != today:
        request.session["used_on"] = today


class ShopTimeZoneMiddleware:
    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        request.shop = None
        if request.user.is_authenticated:
            request.shop = Shop.objects.first()
        if request.shop:
            timezone.activate(zoneinfo.ZoneInfo(request.shop.time_zone))
        else:
            timezone.deactivate()
        return self.get_response(request)
