"""What every page needs: the shop, and the menu entries this person may open."""

from dataclasses import dataclass

from django.http import HttpRequest
from django.urls import reverse

from shop import access

MENU = [
    ("Tonight", "tonight"),
    ("Shelf", "inventory:shelf"),
    ("Colors", "production:colors"),
    ("Pours", "production:pours"),
    ("Bags", "production:bags"),
    ("Orders", "orders"),
    ("Buying", "inventory:buying"),
    ("Books", "books"),
    ("Setup", "setup"),
]
#: Pages of an entry that do not lie under its address.
ALSO = {"orders": ("/customers/", "/shipments/", "/settlements/")}


@dataclass(frozen=True)
class MenuEntry:
    label: str
    url: str
    current: bool


def house(request: HttpRequest) -> dict:
    user = getattr(request, "user", None)
    if user is None or not user.is_authenticated:
        return {"menu": [], "shop": None, "sees_costs": False}
    entries = []
    for label, name in MENU:
        if access.may(user, name, "GET"):
            url = reverse(name)
            roots = (url, *ALSO.get(name, ()))
            here = request.path == url if url == "/" else request.path.startswith(roots)
            entries.append(MenuEntry(label, url, here))
    return {"menu": entries, "shop": getattr(request, "shop", None), "sees_costs": user.is_owner}
