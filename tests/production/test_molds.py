"""Cups, baits and molds: what is kept, and the pages."""

from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from production.models import Bait, Cup, Mold
from production.services import molds
from production.services.molds import CavitySpec, WeighedSpec
from production.services.refusals import Refusal
from tests import factories

pytestmark = pytest.mark.django_db


def url(name, *args):
    return reverse(f"production:{name}", args=args)


@pytest.fixture
def eel():
    return factories.make_bait("Reed Eel")


def typed(**changes):
    """A mold form as the browser sends it, empty lines and all."""
    data = {"name": "Reed Eel four", "copies": "2", "minutes_per_cycle": "6"}
    data |= dict.fromkeys(("shot_ml", "shot_g", "grade", "density"), "")
    for line in range(4):
        data |= {f"cavity-{line}-{field}": "" for field in ("bait", "count", "bait_ml", "grams")}
    return data | changes


def test_mold_with_baits_bigger_than_its_shot_is_refused(eel):
    with pytest.raises(Refusal, match="28 mL together, more than one shot of 26 mL") as refused:
        molds.save_mold(
            name="Wrong", shot_ml=Decimal(26), cavities=[CavitySpec(eel, 4, Decimal(7))]
        )
    assert refused.value.field == "shot_ml"
    assert not Mold.objects.exists()


def test_one_bait_has_one_line_in_a_mold(eel):
    cavity = CavitySpec(eel, 1, Decimal(5))
    with pytest.raises(Refusal, match="already in this mold") as refused:
        molds.save_mold(name="Wrong", shot_ml=Decimal(26), cavities=[cavity, cavity])
    assert refused.value.row == 1


def test_mold_without_cavities_is_refused():
    with pytest.raises(Refusal, match="at least one bait"):
        molds.save_mold(name="Wrong", shot_ml=Decimal(26), cavities=[])


def test_weighed_shot_gives_volumes_by_density(eel):
    # volume = mass ÷ density: 51.5 g at 1.03 g/mL is 50 mL, 41.2 g of four baits is 10 mL each
    mold = molds.save_weighed_mold(
        name="Reed Eel four",
        shot_g=Decimal("51.5"),
        density=Decimal("1.03"),
        cavities=[WeighedSpec(eel, 4, Decimal("41.2"))],
    )
    assert mold.shot_ml == 50
    assert mold.cavities.get().bait_ml == 10


def test_rounding_never_makes_open_poured_baits_bigger_than_their_shot(eel):
    # 20 mL over three is 6.6667 each: three times 6.667 would be 20.001
    mold = molds.save_weighed_mold(
        name="Open three",
        shot_g=Decimal(20),
        density=Decimal(1),
        cavities=[WeighedSpec(eel, 3, Decimal(20))],
    )
    assert mold.cavities.get().bait_ml * 3 <= mold.shot_ml


def test_baits_heavier_than_their_shot_are_refused(eel):
    with pytest.raises(Refusal, match="before trimming") as refused:
        molds.save_weighed_mold(
            name="Wrong",
            shot_g=Decimal(20),
            density=Decimal(1),
            cavities=[WeighedSpec(eel, 3, Decimal(21))],
        )
    assert refused.value.field == "shot_g"


def test_changed_mold_takes_the_new_cavities(eel):
    mold = factories.make_mold(bait=eel)
    craw = factories.make_bait("Pond Craw", "60")
    molds.save_mold(
        mold=mold, name=mold.name, shot_ml=Decimal(20), cavities=[CavitySpec(craw, 2, Decimal(8))]
    )
    assert [cavity.bait for cavity in mold.cavities.all()] == [craw]


def test_cup_that_must_hold_more_than_it_can_is_refused():
    with pytest.raises(Refusal, match="below the largest") as refused:
        molds.save_cup(number=1, least_ml=Decimal(400), most_ml=Decimal(30))
    assert refused.value.field == "least_ml"


def test_two_cups_with_one_number_are_refused():
    factories.make_cup(3)
    with pytest.raises(Refusal, match="already a cup 3"):
        molds.save_cup(number=3, least_ml=Decimal(30), most_ml=Decimal(400))


def test_mold_is_kept_by_volumes_in_any_unit(owner_client, eel):
    line = {"cavity-1-bait": str(eel.pk), "cavity-1-count": "4", "cavity-1-bait_ml": "1 tsp"}
    answer = owner_client.post(url("mold_new"), typed(shot_ml="1 fl oz", **line))
    mold = Mold.objects.get()
    assert answer.url == url("mold", mold.pk)
    # NIST HB 44 appendix C: 1 fl oz = 29.5735 mL, a sixth of which is a teaspoon of 4.9289 mL
    assert (mold.shot_ml, mold.cavities.get().bait_ml) == (Decimal("29.574"), Decimal("4.929"))
    page = owner_client.get(answer.url).content.decode()
    assert "9.9 <small>mL" in page


def test_mold_is_kept_by_weight_with_the_plastisols_density(owner_client, eel):
    grade = factories.make_plastisol()
    line = {"cavity-0-bait": str(eel.pk), "cavity-0-count": "4", "cavity-0-grams": "41.2"}
    owner_client.post(url("mold_new"), typed(shot_g="51.5 g", grade=str(grade.pk), **line))
    assert Mold.objects.get().cavities.get().bait_ml == 10


def test_weighed_shot_without_a_density_is_refused_at_the_density(owner_client, eel):
    line = {"cavity-0-bait": str(eel.pk), "cavity-0-count": "4", "cavity-0-grams": "41.2"}
    page = owner_client.post(url("mold_new"), typed(shot_g="51.5 g", **line))
    assert page.status_code == 422
    assert "density" in page.context["form"].errors
    assert 'value="51.5 g"' in page.content.decode()


def test_plastisol_of_unknown_density_is_named(owner_client, eel):
    grade = factories.make_item("plastisol", "Unmarked base")
    line = {"cavity-0-bait": str(eel.pk), "cavity-0-count": "4", "cavity-0-grams": "41.2"}
    page = owner_client.post(url("mold_new"), typed(shot_g="51.5", grade=str(grade.pk), **line))
    assert "density of Unmarked base is not known" in page.context["form"].errors["grade"][0]


def test_shot_by_volume_and_by_weight_at_once_is_refused(owner_client, eel):
    page = owner_client.post(url("mold_new"), typed(shot_ml="26", shot_g="27 g"))
    assert page.status_code == 422
    assert "not both" in page.context["form"].errors["shot_g"][0]


def test_missing_volume_of_a_bait_is_said_at_its_line(owner_client, eel):
    line = {"cavity-2-bait": str(eel.pk), "cavity-2-count": "4"}
    page = owner_client.post(url("mold_new"), typed(shot_ml="26", **line))
    assert page.status_code == 422
    assert "how much one bait holds" in page.context["rows"].forms[2].errors["bait_ml"][0]


def test_mold_form_starts_with_what_the_mold_is(owner_client, eel):
    mold = factories.make_mold(bait=eel)
    page = owner_client.get(url("mold_edit", mold.pk)).content.decode()
    assert 'value="26 mL"' in page
    assert 'value="5 mL"' in page


@pytest.mark.parametrize(
    ("text", "millimetres"), [("4 in", "101.6"), ('4½"', "114.3"), ("100mm", "100"), ("7 cm", "70")]
)
def test_bait_length_in_inches_or_mm(owner_client, text, millimetres):
    # 1 in = 25.4 mm exactly (NIST SP 811 appendix B)
    owner_client.post(url("bait_new"), {"name": "Reed Eel", "length_mm": text})
    assert Bait.objects.get().length_mm == Decimal(millimetres)


@pytest.mark.parametrize("text", ["4", "NaN in", "1e309 mm", "4,5 in", "0 mm", "-3 in", "far"])
def test_length_that_is_none_is_refused_and_kept_as_typed(owner_client, text):
    page = owner_client.post(url("bait_new"), {"name": "Reed Eel", "length_mm": text})
    assert page.status_code == 422
    assert f'value="{text}"' in page.content.decode()
    assert not Bait.objects.exists()


def test_cup_is_kept_and_changed(owner_client):
    data = {"number": "7", "tare_g": "4 oz", "least_ml": "30", "most_ml": "2 US cups"}
    assert owner_client.post(url("cup_new"), data).url == url("cups")
    cup = Cup.objects.get()
    # NIST HB 44 appendix C: 1 oz = 28.3495 g, 2 US cups = 473.176 mL
    assert (cup.tare_g, cup.most_ml) == (Decimal("113.40"), Decimal("473.176"))
    owner_client.post(url("cup_edit", cup.pk), {**data, "number": "8"})
    cup.refresh_from_db()
    assert cup.number == 8


def test_next_cup_is_offered_the_next_number(owner_client):
    factories.make_cup(4)
    assert 'value="5"' in owner_client.get(url("cup_new")).content.decode()


@pytest.mark.parametrize("name", ["mold", "mold_edit", "bait_edit", "cup_edit"])
def test_unknown_thing_is_not_found(owner_client, name):
    assert owner_client.get(url(name, 404_404)).status_code == 404


@pytest.mark.parametrize("name", ["molds", "cups"])
def test_empty_list_says_what_to_do(owner_client, name):
    assert 'class="empty"' in owner_client.get(url(name)).content.decode()


def test_ten_more_molds_cost_no_more_queries(owner_client, eel):
    def count():
        with CaptureQueriesContext(connection) as queries:
            assert owner_client.get(url("molds")).status_code == 200
        return len(queries)

    factories.make_mold(bait=eel)
    few = count()
    for number in range(10):
        factories.make_mold(f"Mold {number}", bait=factories.make_bait(f"Bait {number}"))
    assert count() == few


def test_molds_list_shows_the_sprue(owner_client, eel):
    factories.make_mold(bait=eel, cavities=4, bait_ml=5, shot_ml=26)
    # 26 − 4 × 5
    assert "6 mL" in owner_client.get(url("molds")).content.decode()


def test_helper_sees_molds_and_changes_none(helper_client, eel):
    mold = factories.make_mold(bait=eel)
    assert helper_client.get(url("molds")).status_code == 200
    assert helper_client.get(url("mold", mold.pk)).status_code == 200
    assert helper_client.get(url("mold_edit", mold.pk)).status_code == 403
