"""Who may open what: the whole URL configuration is walked, so that a new page can't be forgotten."""

import os
import re
import subprocess
import sys

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import URLPattern, get_resolver, reverse

from inventory.models import Entry
from inventory.services import files
from production.models import Product
from production.services import batches, heats, pictures
from shop import access
from shop.models import ColorRequest, Customer, Order, PriceList
from shop.services import consigning, invoices, payments, selling, shipping
from tests import factories
from tests.factories import key, micro
from tests.inventory.pictures import PDF
from tests.inventory.pictures import picture as draw_picture
from tests.shop.stalls import bring, open_day

METHODS = ("GET", "POST")


def _names(patterns, namespace=""):
    """Every URL name of the configuration with its pattern's arguments."""
    for pattern in patterns:
        if isinstance(pattern, URLPattern):
            yield namespace + pattern.name, list(pattern.pattern.converters)
        else:
            inner = f"{pattern.namespace}:" if pattern.namespace else ""
            yield from _names(pattern.url_patterns, namespace + inner)


PAGES = dict(_names(get_resolver().url_patterns))


def _url(name, pks=None):
    """The page's address, for the rows of `pks` or for rows numbered 1."""
    found = (pks or {}).get(name.removesuffix("_edit"), 1)
    return reverse(name, kwargs=dict.fromkeys(PAGES[name], found))


@pytest.fixture
def furnished(shop, make_product, take_order, owner, helper):
    """A shop with something on every kind of page: url name → the row to show there."""
    product = make_product(loose=20, bagged=5)
    order = take_order((product, 2))
    partly = take_order((product, 3))
    packed = [shipping.Packed(partly.lines.select_related("product__item").get(), 1)]
    shipment = shipping.ship(key=key(), order=partly, packed=packed, by=owner).shipment
    invoices.issue(partly)
    payments.record(key=key(), order=partly, kind="deposit", amount_minor=100, by=owner)
    base, green = factories.make_plastisol(), factories.make_item(name="Marsh green")
    lot = factories.make_lot(base, 1000, 30)
    factories.make_lot(green, 100, 12)
    version = factories.make_recipe("Marsh Lantern", grade=base, doses={green: 1})
    pour = factories.make_pour()
    part = batches.Part(base, micro(120), lot=lot)
    batch = batches.mix(key=key(), pour=pour, version=version, parts=[part], by=owner).batch
    heats.warm(key=key(), batch=batch, by=owner)
    sheet = files.add_item_file(
        item=base, kind="data sheet", file=SimpleUploadedFile("sheet.pdf", PDF), by=owner
    )
    picture = pictures.add(
        mold=factories.make_mold(), file=SimpleUploadedFile("a.jpg", draw_picture()), by=owner
    )
    pks = _away(product, order.customer) | {
        "customer": Customer.objects.get().pk,
        "order": order.pk,
        "order_ship": order.pk,
        "order_pick_list": order.pk,
        "shipment": shipment.pk,
        "shipment_return": shipment.pk,
        "packing_slip": shipment.pk,
        "customer_sent": order.customer_id,
        "invoice": partly.pk,
        "receipt": partly.pk,
        "inventory:piece": product.packaging.get().item_id,
        "payment_new": order.pk,
        "product_most": product.pk,
        "order_promise": order.pk,
        "order_hold": order.pk,
        "color_request": ColorRequest.objects.create(
            customer=order.customer, order=order, asked_on=order.ordered_on, note="Like weak tea"
        ).pk,
        "price_list": (prices := PriceList.objects.create(name="Wholesale", percent_off=10)).pk,
        "price_list_pdf": prices.pk,
        "person": helper.pk,
        "inventory:item": base.pk,
        "inventory:lot": lot.pk,
        "inventory:count": lot.pk,
        "inventory:waste": lot.pk,
        "inventory:entry": Entry.objects.earliest("id").pk,
        "inventory:entry_undo": Entry.objects.latest("id").pk,
        "inventory:supplier": factories.make_supplier().pk,
        "inventory:pack_new": base.pk,
        "inventory:file": 0,  # none: it streams, and is read in a test of its own
        "inventory:item_file_new": base.pk,
        "inventory:item_file_remove": sheet.pk,
        "production:mold_picture_new": picture.mold_id,
        "production:mold_picture_remove": picture.pk,
        "production:recipe": version.recipe_id,
        "production:recipe_revise": version.recipe_id,
        "production:pattern": version.layers.get().pattern_id,
        "production:cup": factories.make_cup().pk,
        "production:mold": picture.mold_id,
        "production:bait": factories.make_bait().pk,
        "production:product": Product.objects.get().pk,
        "production:bagging": product.baggings.get().lot_id,
    }
    pour_pages = [name for name in PAGES if PAGES[name] and "pour" in _path(name)]
    return pks | dict.fromkeys(pour_pages, pour.pk)


def _away(product, customer):
    """A stall and a consignee with bags: url name → the row to show there."""
    day = open_day()
    consignee = consigning.save(
        None, customer=customer, place_name="Cove", commission_percent=30, price_list=None
    )
    for place in (day.place, consignee.place):
        bring(product, 1, place)
    counted = [selling.Left(product, 1, 0, 650)]
    sale = selling.settle(key=key(), consignee=consignee, counted=counted, by=None).sale
    lot = product.item.lots.get(place=day.place)
    stalls = [name for name in PAGES if name.startswith("stall_")]
    dealings = [name for name in PAGES if name.startswith("consignee")]
    return {
        **dict.fromkeys(stalls, day.pk),
        **dict.fromkeys(dealings, consignee.pk),
        "settlement": sale.pk,
        "settlement_pdf": sale.pk,
        "inventory:move_lot": lot.pk,
        "inventory:give_lot": lot.pk,
        "inventory:give_item": lot.item_id,
    }


def _path(name):
    return reverse(name, kwargs=dict.fromkeys(PAGES[name], 1))


def test_the_walk_finds_the_pages_of_all_three_apps():
    assert {"tonight", "inventory:shelf", "production:batch_mix"} <= PAGES.keys()
    assert len(PAGES) > 60


@pytest.mark.parametrize("table", [access.PUBLIC, access.HELPER.keys()])
def test_the_access_table_names_only_pages_that_exist(table):
    assert set(table) - PAGES.keys() == set()


def test_what_is_public_is_no_more_than_the_door_and_first_aid():
    assert {"welcome", "sign_in", "burn"} == access.PUBLIC


@pytest.mark.django_db
@pytest.mark.parametrize("method", METHODS)
def test_every_other_page_asks_for_signing_in(client, owner, method):
    for name in PAGES.keys() - access.PUBLIC - {"sign_out"}:
        answer = client.generic(method, _url(name))
        if method == "POST":
            # The sign-in page itself, which keeps what was typed.
            assert answer.status_code == 401, name
            assert b'name="password"' in answer.content, name
            continue
        assert answer.status_code == 302, name
        assert answer.headers["Location"].startswith(reverse("sign_in")), name


@pytest.mark.django_db
@pytest.mark.parametrize("name", sorted(access.PUBLIC))
def test_the_public_pages_open_for_anyone(client, owner, name):
    # The welcome page is gone once there is an owner.
    expected = 404 if name == "welcome" else 200
    assert client.get(_url(name)).status_code == expected


@pytest.mark.django_db
@pytest.mark.parametrize("method", [*METHODS, "PUT", "DELETE"])
def test_a_helper_opens_what_the_table_names_and_nothing_else(helper_client, method):
    for name in PAGES.keys() - access.PUBLIC - {"sign_out"}:
        answer = helper_client.generic(method, _url(name))
        allowed = method in access.HELPER.get(name, ())
        assert (answer.status_code != 403) == allowed, (name, answer.status_code)


@pytest.mark.django_db
def test_signing_out_twice_leads_to_the_door(client, owner):
    assert client.post(reverse("sign_out")).headers["Location"].startswith(reverse("sign_in"))


@pytest.mark.django_db
def test_a_helper_may_sign_out(helper_client):
    assert helper_client.post(reverse("sign_out")).status_code == 302


@pytest.mark.django_db
def test_no_owners_page_breaks_and_every_page_has_the_strict_content_policy(
    owner_client, furnished
):
    for name in sorted(PAGES):
        answer = owner_client.get(_url(name, furnished))
        # 422: a page whose form asks by GET says what it misses.
        assert answer.status_code in (200, 302, 404, 405, 422), (name, answer.status_code)
        policy = answer.headers["Content-Security-Policy"]
        assert "default-src 'none'" in policy and "script-src 'self'" in policy, name
        assert "unsafe" not in policy, name


@pytest.mark.django_db
def test_the_pages_for_what_went_wrong_have_the_policy_too(
    client, helper_client, owner_client, shop
):
    client.raise_request_exception = owner_client.raise_request_exception = False
    answers = [client.get("/no/such/page/"), helper_client.get(reverse("books"))]
    type(shop).objects.update(time_zone="Not/AZone")
    answers.append(owner_client.get(reverse("tonight")))
    assert [answer.status_code for answer in answers] == [404, 403, 500]
    for answer in answers:
        assert "default-src 'none'" in answer.headers["Content-Security-Policy"]


@pytest.mark.django_db
def test_no_page_writes_what_the_content_policy_forbids(owner_client, furnished):
    forbidden = re.compile(
        r"<script(?![^>]*\bsrc=)|\sstyle=|<style|\son[a-z]+=|javascript:", re.IGNORECASE
    )
    for name in sorted(PAGES):
        answer = owner_client.get(_url(name, furnished))
        if answer.headers.get("Content-Type", "").startswith("text/html"):
            found = forbidden.search(answer.content.decode())
            assert not found, (name, found)


def _shows_costs(answer):
    if not answer.headers.get("Content-Type", "").startswith("text/html"):
        return False
    return bool(re.search(r'class="[^"]*\bcost\b', answer.content.decode()))


@pytest.mark.django_db
def test_a_helper_sees_no_costs_where_the_owner_does(helper_client, owner_client, furnished):
    readable = [name for name in access.HELPER if "GET" in access.HELPER[name]]
    owners = {name for name in readable if _shows_costs(owner_client.get(_url(name, furnished)))}
    assert {"order", "orders"} <= owners
    for name in set(readable) - {"sign_out"}:
        assert not _shows_costs(helper_client.get(_url(name, furnished))), name


@pytest.mark.django_db
def test_no_posting_is_taken_from_another_site(owner, take_order, make_product):
    client = Client(enforce_csrf_checks=True)
    client.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
    order = take_order((make_product(bagged=3), 1))
    for name in PAGES:
        answer = client.post(_url(name, {"order_ship": order.pk, "order_cancel": order.pk}))
        assert answer.status_code == 403, (name, answer.status_code)
    assert Order.objects.get().status == Order.Status.OPEN


def _deployment_checks(tmp_path, **changes):
    """Django's own deployment checklist: the numbers of what it warns of."""
    environment = {
        **os.environ,
        "EVENING_POUR_DATA": str(tmp_path),
        "EVENING_POUR_DEBUG": "0",
        "ALLOWED_HOSTS": "shop.example",
        "SECRET_KEY": os.urandom(40).hex(),
        **changes,
    }
    environment.pop("DJANGO_ALLOW_ASYNC_UNSAFE", None)  # for the browser tests only
    done = subprocess.run(
        [sys.executable, "manage.py", "check", "--deploy"],
        cwd=settings.BASE_DIR,
        env=environment,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    return set(re.findall(r"\((\w+\.[WE]\d+)\)", done.stderr))


@pytest.mark.parametrize("tls", ["EVENING_POUR_TLS", "EVENING_POUR_OWN_TLS"])
def test_over_tls_the_deployment_checklist_is_clean(tmp_path, tls):
    assert _deployment_checks(tmp_path, **{tls: "1"}) == set()


def test_on_plain_http_only_the_warnings_about_tls_itself_remain(tmp_path):
    # https://docs.djangoproject.com/en/5.2/ref/checks/#security: no HSTS, no redirect to HTTPS,
    # session cookie and CSRF cookie not kept to HTTPS.
    assert _deployment_checks(tmp_path) == {f"security.W{n}" for n in ("004", "008", "012", "016")}


@pytest.mark.django_db
def test_every_kind_of_page_carries_the_same_guards(client, owner, owner_client, furnished):
    sheet = owner_client.get(_url("production:pour_sheet", furnished))
    assert sheet.headers["Content-Type"] == "application/pdf"
    answers = [
        sheet,
        owner_client.get(reverse("tonight")),
        client.get(reverse("sign_in")),
        client.get(reverse("burn")),
        client.get("/no/such/page/"),
    ]
    for answer in answers:
        assert answer.headers["Referrer-Policy"] == "same-origin"
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert answer.headers["X-Frame-Options"] == "DENY"
        assert answer.headers["Cross-Origin-Opener-Policy"] == "same-origin"
        policy = answer.headers["Content-Security-Policy"]
        assert "frame-ancestors 'none'" in policy and "default-src 'none'" in policy
