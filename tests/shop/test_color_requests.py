"""A color that a customer wants: written down, with a picture, tried, and done."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from inventory.models import StoredFile
from shop.models import ColorRequest, Customer
from tests import factories
from tests.inventory.pictures import PDF
from tests.inventory.pictures import picture as draw_picture

pytestmark = pytest.mark.django_db
NEW = "color_request_new"


@pytest.fixture(autouse=True)
def _files(settings, tmp_path):
    settings.FILES_DIR = tmp_path


@pytest.fixture
def juniper(shop):
    return Customer.objects.create(name="Juniper Vale")


def _picture(name="tea.jpg"):
    return SimpleUploadedFile(name, draw_picture())


def _ask(client, customer, **typed):
    data = {"customer": customer.pk, "note": "Like weak tea", "target": "", "order": ""} | typed
    return client.post(reverse(NEW), {name: value for name, value in data.items() if value != ""})


def test_a_wish_is_kept_with_its_color_picture_and_order(
    owner_client, juniper, make_product, take_order
):
    order = take_order((make_product(), 1), customer="Juniper Vale")
    _ask(owner_client, juniper, target="#7A4B21", picture=_picture(), order=order.pk)
    wish = ColorRequest.objects.get()
    assert (wish.customer, wish.order, wish.target, wish.state) == (
        juniper,
        order,
        "#7a4b21",
        "open",
    )
    assert wish.picture.is_picture
    for page in (
        reverse("color_request", args=[wish.pk]),
        reverse("color_requests"),
        reverse("order", args=[order.pk]),
        reverse("customer", args=[juniper.pk]),
    ):
        assert b"Like weak tea" in owner_client.get(page).content, page


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"note": ""}, "Fill this in"),
        ({"target": "brown"}, "six hex digits"),
        ({"order": "77"}, "There is no order 77"),
        ({"order": "9" * 30}, "too large"),
    ],
)
def test_a_wish_that_makes_no_sense_is_shown_again(owner_client, juniper, typed, said):
    answer = _ask(owner_client, juniper, **{"note": "Like weak tea", **typed})
    assert answer.status_code == 422 and said in answer.content.decode()
    assert not ColorRequest.objects.exists()


def test_what_is_no_picture_is_refused_and_nothing_is_kept(owner_client, juniper):
    answer = _ask(owner_client, juniper, picture=SimpleUploadedFile("a.jpg", PDF))
    assert answer.status_code == 422 and b"not a picture" in answer.content
    assert not ColorRequest.objects.exists() and not StoredFile.objects.exists()


def test_another_customer_s_order_is_not_this_wish_s(
    owner_client, juniper, make_product, take_order
):
    order = take_order((make_product(), 1), customer="Ash Ferry")
    answer = _ask(owner_client, juniper, order=order.pk)
    assert answer.status_code == 422 and f"Order {order.pk} is Ash Ferry" in answer.content.decode()


def test_the_recipe_s_page_keeps_the_wish_in_sight_and_the_trial_is_named(
    owner_client, juniper, django_capture_on_commit_callbacks
):
    _ask(owner_client, juniper, target="#7a4b21", picture=_picture())
    wish = ColorRequest.objects.get()
    url = reverse("color_request", args=[wish.pk])
    recipe_page = owner_client.get(url).context["trial_address"]
    page = owner_client.get(recipe_page).content.decode()
    assert "Like weak tea" in page and 'fill="#7a4b21"' in page
    assert reverse("inventory:file", args=[wish.picture_id]) in page
    recipe = factories.make_recipe("Weak tea", grade=factories.make_plastisol(), doses={}).recipe
    old = wish.picture_id
    changed = {"note": "Like strong tea", "target": "", "trial": recipe.pk, "state": "done"}
    owner_client.post(url, {**changed, "picture": _picture("other.jpg")})
    wish.refresh_from_db()
    assert (wish.note, wish.target, wish.trial, wish.state) == (
        "Like strong tea",
        "",
        recipe,
        "done",
    )
    assert wish.picture_id != old and not StoredFile.objects.filter(pk=old).exists()
    assert b"Like strong tea" not in owner_client.get(reverse("color_requests")).content
    done = owner_client.get(reverse("color_requests"), {"state": "done"}).content
    assert b"Like strong tea" in done and b"tried as Weak tea" in done


@pytest.mark.parametrize("said", ["target=red&wish=", "picture=%C2%B2", "target=%23zzzzzz"])
def test_a_mangled_wish_shows_no_box_on_the_recipe_s_page(owner_client, shop, said):
    page = owner_client.get(f"{reverse('production:recipe_new')}?{said}")
    assert page.status_code == 200 and b'id="wanted"' not in page.content


def test_mangled_addresses_open_a_page_or_none(owner_client, shop):
    assert owner_client.get(f"{reverse(NEW)}?customer=%C2%B2&order={'9' * 40}").status_code == 200
    assert owner_client.get(reverse("color_requests"), {"state": "lost"}).status_code == 404
    assert owner_client.get(reverse("color_request", args=[7])).status_code == 404


def test_the_list_costs_the_same_queries_however_long(
    owner_client, juniper, django_assert_max_num_queries
):
    def cost():
        with django_assert_max_num_queries(20) as seen:
            owner_client.get(reverse("color_requests"))
        return len(seen)

    _ask(owner_client, juniper)
    before = cost()
    for number in range(5):
        _ask(owner_client, juniper, note=f"Wish {number}")
    assert cost() == before
