"""Every page of the demo shop at phone width: no axe violation, nothing wider than the screen."""

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inventory import references
from inventory.models import Entry, Item, ItemFile, Lot, Pack, PurchaseOrder, Supplier
from production.models import (
    Bagging,
    Bait,
    Batch,
    Cup,
    Injector,
    Mold,
    MoldPicture,
    Pattern,
    Plan,
    Pour,
    Product,
    Recipe,
    Shots,
)
from production.services import batches, heats
from shop.models import ColorRequest, Customer, Order, PriceList, Shipment, User
from tests.browser import away

pytestmark = pytest.mark.django_db(transaction=True)

PLAIN = [
    "tonight",
    "burn",
    "customers",
    "customer_new",
    "packing",
    "shop_logo",
    "orders",
    "order_new",
    "order_import",
    "color_requests",
    "color_request_new",
    "price_lists",
    "price_list_new",
    "books",
    "setup",
    "shop_edit",
    "person_new",
    "place_new",
    "inventory:shelf",
    "inventory:item_new",
    "inventory:opening",
    "production:molds_file",
    "production:recipes_file",
    "take_away",
    "inventory:on_hold",
    "inventory:find_lot",
    "inventory:count_places",
    "inventory:buying",
    "inventory:receive",
    "inventory:suppliers",
    "inventory:purchases",
    "inventory:supplier_new",
    "production:colors",
    "production:recipe_new",
    "production:pattern_new",
    "production:cups",
    "production:cup_new",
    "production:bench",
    "production:hot_factor",
    "production:injectors",
    "production:injector_new",
    "production:bait_new",
    "production:molds",
    "production:mold_new",
    "production:products",
    "production:product_new",
    "production:pours",
    "production:pour_paper",
    "production:plastic_new",
    "production:leftovers",
    "production:bags",
    "production:bag",
    "production:labels",
    "production:label_jobs",
    "production:label_setup",
    "production:label_sheet_new",
    "production:label_printer_new",
    "production:label_template_new",
]


def _addresses() -> list[str]:
    """Every page that is read, with rows of the demo shop behind it."""
    pour = Pour.objects.filter(batches__lot__on_hand__gt=0).first()
    batch = Batch.objects.filter(pour=pour, lot__on_hand__gt=0).first()
    shots = Entry.objects.filter(kind="shots").first()
    bagged = Bagging.objects.first()
    open_order = Order.objects.filter(status="open").first()
    sheet, picture = ItemFile.objects.get(), MoldPicture.objects.get()
    one = {
        "inventory:item": Item.objects.filter(kind="colorant").first(),
        "inventory:item_edit": Item.objects.filter(kind="flake").first(),
        "inventory:drop_size": Item.objects.filter(kind="colorant").first(),
        "inventory:spoon": Item.objects.filter(kind="flake").first(),
        "inventory:density": Item.objects.filter(kind="plastisol").first(),
        "inventory:measures": Item.objects.filter(measures__isnull=False).first(),
        "inventory:lot": bagged.lot,
        "inventory:family": bagged.lot,
        "inventory:recall": Lot.objects.filter(item__kind="colorant", form="pack").first(),
        "inventory:hold": Lot.objects.in_stock().first(),
        "inventory:count": Lot.objects.in_stock().first(),
        "inventory:empty": Lot.objects.in_stock().first(),
        "inventory:waste": Lot.objects.in_stock().first(),
        "inventory:thin": Lot.objects.in_stock().filter(item__kind="colorant").first(),
        "inventory:mend": Lot.objects.in_stock().filter(item__kind="colorant", form="pack").first(),
        "inventory:entry": shots,
        "inventory:entry_undo": shots,
        "inventory:supplier_edit": Supplier.objects.first(),
        "inventory:pack_new": Item.objects.filter(kind="colorant").first(),
        "inventory:item_file_new": sheet.item,
        "inventory:item_file_remove": sheet,
        "inventory:pack_delete": Pack.objects.first(),
        "inventory:pack_edit": Pack.objects.filter(breaks__isnull=False).first(),
        "inventory:outlook": Item.objects.filter(kind="colorant").first(),
        "inventory:purchase": PurchaseOrder.objects.first(),
        "inventory:purchase_receive": PurchaseOrder.objects.first(),
        "production:recipe": Recipe.objects.first(),
        "production:recipe_revise": Recipe.objects.first(),
        "production:pattern": Pattern.objects.filter(layers__position=2).first(),
        "production:cup_edit": Cup.objects.first(),
        "production:cup_tare": Cup.objects.first(),
        "production:injector_edit": Injector.objects.first(),
        "production:bait_edit": Bait.objects.first(),
        "production:mold": picture.mold,
        "production:mold_picture_new": picture.mold,
        "production:mold_picture_remove": picture,
        "production:mold_edit": Mold.objects.first(),
        "production:product": Product.objects.first(),
        "production:product_edit": Product.objects.first(),
        "production:pour": pour,
        "production:batch_new": pour,
        "production:plan": Plan.objects.first(),
        "production:leftover_next": Lot.objects.in_stock().filter(form="trim").first(),
        "production:shots_new": pour,
        "production:bagging": bagged.lot,
        "customer": Customer.objects.first(),
        "order": open_order,
        "order_edit": open_order,
        "order_mailing": open_order,
        "order_promise": open_order,
        "order_hold": open_order,
        "product_most": Product.objects.first(),
        "payment_new": open_order,
        "order_ship": open_order,
        "shipment": Shipment.objects.first(),
        "shipment_return": Shipment.objects.first(),
        "customer_sent": Shipment.objects.first().order.customer,
        "inventory:piece": Item.objects.filter(kind="packaging").first(),
        "color_request": ColorRequest.objects.first(),
        "price_list": PriceList.objects.first(),
        "person_edit": User.objects.first(),
    }
    addresses = [reverse(name) for name in PLAIN]
    addresses += [reverse(name, args=[row.pk]) for name, row in one.items()]
    addresses.append(reverse("inventory:count_round", args=["none"]))
    tools = {"mold": Mold, "injector": Injector, "cup": Cup}
    addresses += [
        reverse("production:service", args=[kind, model.objects.first().pk])
        for kind, model in tools.items()
    ]
    pages = ("leftover", "batch", "batch_add", "batch_amend", "batch_next", "heat_new")
    addresses += [reverse(f"production:{name}", args=[pour.pk, batch.pk]) for name in pages]
    addresses += _live_batch(batch)
    pattern = Pattern.objects.filter(name=batch.version.recipe.name).first()
    amended = Shots.objects.filter(entry__reversed_by=None).first()
    addresses += [
        reverse(f"production:{name}", args=[amended.pour_id, amended.pk])
        for name in ("shots_amend", "shots_undo")
    ]
    asked = f"?pattern={pattern.pk}&mold={Mold.objects.first().pk}"
    addresses.append(reverse("production:shots_new", args=[pour.pk]) + asked)
    addresses += [
        reverse("production:tally", args=[pour.pk, batch.pk]) + more for more in ("", asked)
    ]
    addresses.append(reverse("inventory:item", args=[sheet.item_id]))
    addresses.append(reverse("inventory:shelf") + "?by=place")
    addresses.append(f"{reverse('order_new')}?again={open_order.pk}")
    lacking = "&".join(f"line={product.pk}x200" for product in Product.objects.all()[:3])
    addresses.append(f"{reverse('promise_new')}?{lacking}&full=1")
    addresses += away.addresses()
    # Where the ledger's references lead.
    addresses += {
        references.url(entry.reference) for entry in Entry.objects.exclude(reference="")[:40]
    }
    return addresses


def _live_batch(batch: Batch) -> list[str]:
    """A batch of an evening that goes on, with its timer running and nothing said of its recipe."""
    pour = Pour.objects.create(business_date=batch.pour.business_date, started_at=timezone.now())
    part = batches.Part(batch.version.grade, 50_000_000)
    dose = batches.Part(batch.version.doses.first().item, 0, said="a bit", estimated=True)
    facts = {"pour": pour, "version": None, "cup": batch.cup, "by": None}
    live = batches.mix(key="live", parts=[part], **facts).batch
    batches.add(key="more", batch=live, parts=[dose], by=None)
    logged = heats.warm(key="h1", batch=live, minutes=4, peak_c=Decimal(180), by=None)
    heats.warm(key="h2", batch=live, by=None)
    args = [pour.pk, live.pk]
    solid = Pattern.objects.filter(layers__share=1_000_000).first()
    asked = f"?pattern={solid.pk}&mold={Mold.objects.first().pk}"
    return [
        *(reverse("production:tally", args=args) + more for more in ("", asked)),
        reverse("production:shots_new", args=[pour.pk]) + asked,
        reverse("production:batch_mix", args=[pour.pk])
        + f"?color={batch.version_id}&base=100+mL&leftover={live.lot_id}",
        *(
            reverse(f"production:{name}", args=args)
            for name in ("batch", "batch_add", "batch_recipe", "batch_next", "leftover")
        ),
        reverse("production:heat", args=[*args, logged.pk]),
        *(reverse(f"production:{name}", args=[pour.pk]) for name in ("pour", "pour_close")),
    ]


@pytest.fixture
def demo(page, live_server):
    from shop.demo import build

    owner = User.objects.create(username="wren", role="owner")
    build.load(owner=owner)
    client = Client()
    client.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
    cookie = client.cookies["sessionid"].value
    page.context.add_cookies([{"name": "sessionid", "value": cookie, "url": live_server.url}])
    return live_server.url


def test_every_page_can_be_read_by_everyone_on_a_phone(page, demo, axe, problems):
    found = []
    for address in _addresses():
        page.emulate_media(color_scheme="light")
        answer = page.goto(demo + address)
        if answer.status != 200:
            found.append(f"{address}: answered {answer.status}")
            continue
        found += [f"{address}: {line}" for line in axe()]
        wide = page.evaluate("document.documentElement.scrollWidth")
        if wide > 360:
            found.append(f"{address}: {wide} px wide")
        page.emulate_media(color_scheme="dark")
        page.reload()
        found += [f"{address}, dark: {line}" for line in axe("color-contrast")]
    assert found == []
    assert problems == []
