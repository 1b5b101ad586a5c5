"""Fixtures every test may use: people at the door, and plain static files."""

import os
import shutil
import tempfile
from pathlib import Path

import pytest
from django.test import Client, SimpleTestCase
from hypothesis import settings as examples

from tests import demo_shop, factories

# Playwright's synchronous interface runs inside an event loop; the ORM is used from it on purpose.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")


# Nothing is timed in a test: how long an example takes is the machine's business.
examples.register_profile("untimed", examples(), deadline=None)
examples.load_profile("untimed")


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--with-database",
        action="store_true",
        help="only the tests that open a database: the others say the same on any of them",
    )


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if not config.getoption("--with-database"):
        return
    kept, left = [], []
    for item in items:
        (kept if _opens_a_database(item) else left).append(item)
    config.hook.pytest_deselected(items=left)
    items[:] = kept


def _opens_a_database(item: pytest.Item) -> bool:
    wanted = {"db", "transactional_db", "live_server"} & set(getattr(item, "fixturenames", ()))
    of_django = isinstance(getattr(item, "cls", None), type) and issubclass(
        item.cls, SimpleTestCase
    )
    return bool(wanted or of_django or item.get_closest_marker("django_db"))


def pytest_configure() -> None:
    """Static files are served as they lie in the checkout: not collected, hashed or compressed.
    What is taken in lies in a folder of this run."""
    from django.conf import settings

    plain = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
    settings.STORAGES = {**settings.STORAGES, "staticfiles": plain}
    settings.STATIC_ROOT = settings.BASE_DIR / "static"
    settings.WHITENOISE_AUTOREFRESH = True
    # The process that starts the run names it; its workers inherit the name.
    os.environ.setdefault(demo_shop.RUN, str(os.getpid()))
    settings.FILES_DIR = Path(tempfile.gettempdir()) / f"evening-pour-files-{os.getpid()}"


def pytest_unconfigure() -> None:
    from django.conf import settings

    if os.environ.get(demo_shop.RUN) == str(os.getpid()):
        demo_shop.forget()
    shutil.rmtree(settings.FILES_DIR, ignore_errors=True)


@pytest.fixture
def shop(db):
    return factories.make_shop()


@pytest.fixture
def owner(shop):
    return factories.make_user("Wren Halloway", role="owner")


@pytest.fixture
def helper(shop):
    return factories.make_user("Tobin Ash", role="helper")


def _client(user) -> Client:
    client = Client()
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    return client


@pytest.fixture
def owner_client(owner):
    return _client(owner)


@pytest.fixture
def helper_client(helper):
    return _client(helper)
