"""The bench's large figures are said in the shop's units, with the other system beside them."""

import pytest
from django.urls import reverse
from django.utils.http import urlencode

from shop.models import Shop
from tests.production import bench_helpers
from tests.production.bench_helpers import text_of
from tests.production.live import Live, url

pytestmark = pytest.mark.django_db


@pytest.fixture
def live(shop):
    return Live()


def pages(live, batch) -> dict[str, str]:
    pattern = live.recipe.layers.get().pattern
    asked = urlencode({"mold": live.mold.pk, "pattern": pattern.pk})
    return {
        "batch": url("batch", batch),
        "tally": f"{url('tally', batch)}?{asked}",
        "pour": reverse("production:pour", args=[live.pour.pk]),
        "leftover": url("leftover", batch),
        "next": url("batch_next", batch),
        "add": url("batch_add", batch),
        "mix": bench_helpers.plan_url(live.pour, live.recipe.pk, base="200 mL"),
    }


# 1 fl oz is 29.5735295625 mL: NIST Handbook 44, appendix C. 204 mL are 6.898 fl oz, 200 mL are 6.763.
@pytest.mark.parametrize(
    "system, left, needed",
    [
        ("us", ("6.9 fl oz", "204 mL"), "6.76 fl oz (200 mL)"),
        ("metric", ("204 mL", "6.9 fl oz"), "200 mL (6.76 fl oz)"),
    ],
)
def test_what_is_left_is_read_in_the_shop_s_units_first(helper_client, live, system, left, needed):
    Shop.objects.update(units=system)
    batch = live.mix(200, moss=4)
    first, other = left
    for name, address in pages(live, batch).items():
        text = text_of(helper_client.get(address))
        if name == "mix":
            assert needed in text
            continue
        assert first in text, (name, text)
        assert other in text[text.index(first) :], (name, text)


def test_what_was_thrown_away_is_said_the_same_way(helper_client, live):
    batch = live.mix(200, moss=0)
    live.shoot(batch)
    text = text_of(helper_client.get(reverse("production:pour", args=[live.pour.pk])))
    # 6 mL of sprue.
    assert "of base in trim" in text
    assert "6 mL of base in trim" in text
