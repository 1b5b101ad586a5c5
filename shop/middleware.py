"""The door: who may open which page, and the shop's own clock."""

import zoneinfo

from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone

from shop import access
from shop.models import Shop, User


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
            return redirect_to_login(request.get_full_path())
        if not access.may(request.user, name, request.method):
            raise PermissionDenied
        return None


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
