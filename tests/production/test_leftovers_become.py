"""Leftovers in hand: the list, and what trim or plastic without papers can become."""

import pytest
from django.urls import reverse

from inventory.models import Lot
from production.models import Batch, Pour
from production.services import unrecorded
from tests import factories
from tests.factories import key, micro
from tests.inventory.pages import queries_of
from tests.production.bench_helpers import text_of
from tests.production.live import Live, send, url

pytestmark = pytest.mark.django_db
ALL = "/pours/leftovers/"


@pytest.fixture
def live(shop):
    return Live()


@pytest.fixture
def trim(live):
    """What came back of two shots: two baits of eight and the sprues."""
    live.shoot(live.mix(100), count=2, good=6)
    return Lot.objects.get(form="trim")


def becoming(lot) -> str:
    return reverse("production:leftover_next", args=[lot.pk])


def test_an_empty_page_says_where_leftovers_come_from(helper_client, shop):
    assert "Nothing poured is left." in text_of(helper_client.get(ALL))


def test_the_list_names_every_leftover_and_asks_no_more_for_twenty(helper_client, live, trim):
    text = text_of(helper_client.get(ALL))
    assert trim.number in text and "Moss Lantern" in text
    before = queries_of(helper_client, ALL)
    for _ in range(10):
        live.mix(20)
    assert queries_of(helper_client, ALL) == before


def test_trim_can_become_what_adding_allows(helper_client, live, trim):
    dark = factories.make_recipe(
        "Moss Dark", grade=live.base, doses={live.moss: 4, live.ember: "0.6"}
    )
    factories.make_recipe("Bare", grade=live.base, doses={})
    page = helper_client.get(becoming(trim))
    names = [color.version.recipe.name for color in page.context["colors"]]
    assert names == ["Moss Lantern", "Moss Dark"]
    # The smallest batch that uses all of it is as large as the trim itself.
    assert [color.needed for color in page.context["using_up"]] == [trim.on_hand] * 2
    assert "nothing to add" in text_of(page)
    color = page.context["colors"][1]
    assert [dose.item for dose in color.adds] == [live.moss, live.ember]
    address = f"{reverse('production:batch_mix', args=[live.pour.pk])}?{color.query}"
    send(helper_client, address)
    assert Batch.objects.get(version=dark).lot.made == pytest.approx(
        trim.on_hand, abs=micro("0.05")
    )
    trim.refresh_from_db()
    assert trim.on_hand == 0
    assert "It is used up." in text_of(helper_client.get(becoming(trim)))


def test_a_larger_batch_is_asked_for_and_nonsense_is_said_at_its_field(helper_client, live, trim):
    page = helper_client.get(becoming(trim), {"base": "200 mL"})
    [color] = page.context["colors"]
    assert color.plan.fresh == micro(200) - trim.on_hand
    answer = helper_client.get(becoming(trim), {"base": "a bucket"})
    assert answer.status_code == 422
    assert answer.context["form"].errors["base"]
    assert answer.context["form"]["base"].value() == "a bucket"


def test_what_the_shelf_lacks_for_a_color_is_said(helper_client, live, trim):
    live.moss.lots.update(on_hand=micro(1))
    page = helper_client.get(becoming(trim), {"base": "200 mL"})
    [color] = page.context["colors"]
    # Two in a hundred, less what the trim holds, and one mL is all there is.
    short = (200 - trim.on_hand / 1e6) * 0.02 - 1
    assert color.lacks == [f"{short:.3g} mL of Moss tint"]
    assert "The shelf lacks" in text_of(page)


def test_plastic_without_papers_becomes_nothing_by_a_recipe(helper_client, live):
    unrecorded.take_in(key=key(), quantity=micro(80), shape="puck", grade=live.base, by=None)
    lot = Lot.objects.get(item__kind="leftover", batch=None, form="puck")
    text = text_of(helper_client.get(becoming(lot)))
    assert "None of your recipes can be reached by adding only." in text


def test_a_batchs_leftover_has_its_own_page(helper_client, live):
    batch = live.mix(100)
    answer = helper_client.get(becoming(batch.lot))
    assert answer.url == url("batch_next", batch)


def test_without_an_open_evening_it_says_to_begin_one(helper_client, live, trim):
    Pour.objects.update(closed_at=live.pour.started_at)
    text = text_of(helper_client.get(becoming(trim)))
    assert "No evening is open. Begin one" in text


def test_what_is_no_leftover_is_not_found(helper_client, live):
    assert helper_client.get(becoming(Lot.objects.filter(form="pack").first())).status_code == 404


def test_the_lot_leads_to_what_it_can_become(helper_client, live, trim):
    page = helper_client.get(reverse("inventory:lot", args=[trim.pk]))
    assert f'href="{becoming(trim)}"' in page.content.decode()
    page = helper_client.get(reverse("inventory:lot", args=[live.moss_lot.pk]))
    assert "What can this become?" not in text_of(page)
