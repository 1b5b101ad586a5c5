"""The server killed between two requests: what was answered is there, and a repeated press counts once."""

import http.cookiejar
import os
import re
import signal
import subprocess
import sys
import urllib.parse
import urllib.request

import pytest
from django.conf import settings
from django.db import connection
from django.test import Client
from django.urls import reverse

from tests import factories
from tests.production.bench_helpers import shots_url
from tests.production.live import Live
from tests.shop.test_main import needs_posix

SERVE = """
import sys
from shop import listening, serving
from shop.wsgi import application
server = serving.make_server(
    listening.Place("127.0.0.1", 0, "http", ["127.0.0.1"], "", "", []), application
)
server.prepare()
print(server.bind_addr[1], flush=True)
server.serve()
"""


class Shop:
    """A shop of its own process, on a copy of the test's database."""

    def __init__(self, folder) -> None:
        self.folder, self.process = folder, None

    def start(self) -> None:
        facts = {
            "EVENING_POUR_DATA": str(self.folder),
            "SECRET_KEY": settings.SECRET_KEY,
            # Static files were not collected for it.
            "EVENING_POUR_DEBUG": "1",
            "DJANGO_SETTINGS_MODULE": "shop.settings",
        }
        self.process = subprocess.Popen(
            [sys.executable, "-c", SERVE],
            env={**os.environ, **facts},
            cwd=settings.BASE_DIR,
            stdout=subprocess.PIPE,
            text=True,
        )
        self.port = int(self.process.stdout.readline())

    def kill(self) -> None:
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()
        self.process.stdout.close()

    def url(self, path: str) -> str:
        return f"http://127.0.0.1:{self.port}{path}"


@needs_posix
@pytest.mark.django_db(transaction=True)
@pytest.mark.skipif(connection.vendor != "sqlite", reason="The embedded database is meant.")
def test_what_was_answered_survives_a_kill_and_is_not_posted_twice(tmp_path):
    factories.make_shop()
    live = Live()
    live.mix(base=300, moss=6)
    client = Client()
    client.force_login(factories.make_user(), backend="django.contrib.auth.backends.ModelBackend")
    with connection.cursor() as cursor:
        cursor.execute("VACUUM INTO %s", [str(tmp_path / "db.sqlite3")])
    shop = Shop(tmp_path)
    address = shots_url(live.pour, live.mold, live.recipe.layers.get().pattern)
    browser = _browser(client.cookies["sessionid"].value)
    shop.start()
    try:
        form = _fields(browser.open(shop.url(address)).read().decode())
        form |= {"count": "3"} | {name: "11" for name in form if name.startswith("good_")}
        answer = browser.open(shop.url(address), _encoded(form)).read().decode()
        assert "3 × Reed Eel four, Moss Lantern: 11 good" in answer
        shop.kill()
        shop.start()
        again = browser.open(shop.url(address), _encoded(form)).read().decode()
        evening = reverse("production:pour", args=[live.pour.pk])
        shown = browser.open(shop.url(evening)).read().decode()
    finally:
        shop.kill()
    for page in (again, shown):
        assert page.count(">3 × Reed Eel four, Moss Lantern: 11 good</a>") == 1


def _browser(session: str) -> urllib.request.OpenerDirector:
    jar = http.cookiejar.CookieJar()
    opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(jar))
    facts = dict.fromkeys(("port", "comment", "comment_url", "expires"), None)
    flags = {"port_specified": False, "domain_specified": True, "domain_initial_dot": False}
    jar.set_cookie(
        http.cookiejar.Cookie(
            0,
            "sessionid",
            session,
            domain="127.0.0.1",
            path="/",
            path_specified=True,
            secure=False,
            discard=True,
            rest={},
            **facts,
            **flags,
        )
    )
    return opener


def _fields(page: str) -> dict[str, str]:
    """What the page's posting form would send, as it was shown."""
    form = page[page.index('<form method="post" action="/pours') :]
    found = {}
    for tag in re.findall(r"<input[^>]*>", form):
        facts = dict(re.findall(r'(\w+)="([^"]*)"', tag))
        if facts.get("type") not in ("radio", "checkbox") or " checked" in tag:
            found[facts.get("name", "")] = facts.get("value", "")
    for name, body in re.findall(r'(?s)<select name="(\w+)".*?>(.*?)</select>', form):
        chosen = re.search(r'value="([^"]*)" selected', body)
        found[name] = chosen.group(1) if chosen else ""
    found.pop("", None)
    return found


def _encoded(form: dict[str, str]) -> bytes:
    return urllib.parse.urlencode(form).encode()
