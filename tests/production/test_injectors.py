"""Injectors: what a barrel holds, what stays behind, what two bores share; parts of a mold's cavities."""

from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from production import barrels
from production.models import Injector, Mold
from production.services import gear, molds
from production.services.refusals import Refusal
from tests import factories

LIST, NEW = "production:injectors", "production:injector_new"


def typed(**changes):
    data = {"name": "Lantern twin", "barrels": "2", "barrel_ml": "4 fl oz", "residue_ml": "3"}
    return data | dict.fromkeys(("first_bore_mm", "second_bore_mm", "notes"), "") | changes


def _twin(first, second, count=2):
    return Injector(barrels=count, first_bore_mm=Decimal(first), second_bore_mm=Decimal(second))


def test_a_wider_bore_gives_more_by_its_area():
    for first, second, expected in [(32, 32, [50, 50]), (40, 30, [64, 36]), (20, 10, [80, 20])]:
        # 40² / (40² + 30²) = 1600 / 2500, by hand.
        bores = barrels.bores(_twin(first, second))
        assert barrels.shares([50, 50], bores_mm=bores, whole=100) == expected


def test_where_bores_say_nothing_the_pattern_keeps_its_shares():
    assert barrels.bores(None) is None
    assert barrels.bores(Injector(barrels=2)) is None
    assert barrels.bores(_twin(40, 30, count=1)) is None
    assert barrels.shares([60, 40], bores_mm=None, whole=100) == [60, 40]
    three = barrels.shares([20, 30, 50], bores_mm=(Decimal(40), Decimal(30)), whole=100)
    assert three == [20, 30, 50]


@pytest.mark.django_db
def test_an_empty_page_says_what_an_injector_is_written_down_for(owner_client, shop):
    text = owner_client.get(reverse(LIST)).content.decode()
    assert "No injector yet" in text
    assert reverse(NEW) in text
    assert reverse(LIST) in owner_client.get(reverse("setup")).content.decode()


@pytest.mark.django_db
def test_a_twin_injector_is_written_down_with_its_bores(owner_client, shop):
    data = typed(first_bore_mm="40 mm", second_bore_mm="1.25 in", notes="Seals: oil them.")
    assert owner_client.post(reverse(NEW), data).url == reverse(LIST)
    twin = Injector.objects.get()
    # 4 × 29.5735295625 mL and 1.25 × 25.4 mm: NIST Handbook 44, appendix C.
    assert (twin.barrel_ml, twin.residue_ml) == (Decimal("118.294"), 3)
    assert (twin.first_bore_mm, twin.second_bore_mm) == (40, Decimal("31.75"))
    text = owner_client.get(reverse(LIST)).content.decode()
    assert "two barrels" in text
    assert "61 to 39" in text  # 1600 / (1600 + 1008.06), by hand


@pytest.mark.django_db
def test_an_injector_is_changed_and_put_away(owner_client, shop):
    one = gear.save_injector(name="Plain", barrels=1, barrel_ml=Decimal(120))
    page = reverse("production:injector_edit", args=[one.pk])
    assert 'value="120 mL"' in owner_client.get(page).content.decode()
    data = typed(name="Plain one", barrels="1", residue_ml="0", archived="on")
    assert owner_client.post(page, data).status_code == 302
    one.refresh_from_db()
    assert (one.name, one.residue_ml, one.archived) == ("Plain one", 0, True)
    assert "put away" in owner_client.get(reverse(LIST)).content.decode()
    assert owner_client.get(reverse("production:injector_edit", args=[999])).status_code == 404


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"name": ""}, "name", "Fill this in"),
        ({"name": "PLAIN"}, "name", "already an injector"),
        ({"barrels": "3"}, "barrels", "valid choice"),
        ({"barrel_ml": "0"}, "barrel_ml", "above 0"),
        ({"barrel_ml": "4 g"}, "barrel_ml", "Write a volume"),
        ({"barrel_ml": "1e9"}, "barrel_ml", "without the e"),
        ({"residue_ml": "200"}, "residue_ml", "less than the barrel holds"),
        ({"residue_ml": "-1"}, "residue_ml", "less than zero"),
        ({"first_bore_mm": "40"}, "first_bore_mm", "with in or mm"),
        ({"first_bore_mm": "400 mm"}, "first_bore_mm", "A bore is between"),
        ({"first_bore_mm": "40 mm"}, "second_bore_mm", "both bores"),
        ({"barrels": "1", "first_bore_mm": "40 mm"}, "first_bore_mm", "two barrels differ"),
    ],
)
def test_what_is_wrong_is_said_at_its_field_and_nothing_is_kept(
    owner_client, shop, changes, field, words
):
    gear.save_injector(name="Plain", barrels=1, barrel_ml=Decimal(120))
    response = owner_client.post(reverse(NEW), typed(**changes))
    assert response.status_code == 422
    assert words in response.context["form"].errors[field][0]
    assert Injector.objects.count() == 1


@pytest.mark.django_db
def test_a_barrel_never_keeps_all_it_holds():
    with pytest.raises(Refusal, match="less than the barrel"):
        gear.save_injector(name="Stuck", barrels=1, barrel_ml=Decimal(5), residue_ml=Decimal(5))


@pytest.mark.django_db
def test_more_injectors_take_no_more_queries(owner_client, shop):
    counts = []
    for start in (0, 10):
        for number in range(start, start + 10):
            gear.save_injector(
                name=f"Twin {number}",
                barrels=2,
                barrel_ml=Decimal(120),
                first_bore_mm=Decimal(40),
                second_bore_mm=Decimal(30),
            )
        owner_client.get(reverse(LIST))
        with CaptureQueriesContext(connection) as taken:
            owner_client.get(reverse(LIST))
        counts.append(len(taken))
    assert counts[0] == counts[1]


# --- What lies in a cavity before the shot ---------------------------------------


def mold_typed(**changes):
    data = {"name": "Reed Eel four", "copies": "1", "minutes_per_cycle": "6", "shot_ml": "26"}
    data |= dict.fromkeys(("shot_g", "grade", "density", "notes"), "")
    fields = ("bait", "count", "bait_ml", "grams", "part", "parts_each")
    for line in range(4):
        data |= {f"cavity-{line}-{field}": "" for field in fields}
    return data | changes


def cavity(bait, part="", each="", line=0):
    names = {"bait": bait.pk, "count": "4", "bait_ml": "5", "part": part, "parts_each": each}
    return {f"cavity-{line}-{name}": value for name, value in names.items()}


@pytest.mark.django_db
def test_a_mold_is_written_down_with_its_hooks_and_notes(owner_client, shop):
    hook = factories.make_item("part", "Wide hook 3/0", "each")
    data = mold_typed(**cavity(factories.make_bait(), hook.pk, "2"), notes="Oil the left screw.")
    assert owner_client.post(reverse("production:mold_new"), data).status_code == 302
    mold = Mold.objects.get()
    kept = mold.cavities.get()
    assert (kept.part, kept.parts_each, mold.notes) == (hook, 2, "Oil the left screw.")
    text = owner_client.get(reverse("production:mold", args=[mold.pk])).content.decode()
    assert "Wide hook 3/0" in text
    assert "Oil the left screw." in text


@pytest.mark.django_db
def test_hooks_stay_in_a_mold_that_is_changed_and_are_taken_out_by_choice(owner_client, shop):
    hook, bait = factories.make_item("part", "Wide hook 3/0", "each"), factories.make_bait()
    mold = factories.make_mold(bait=bait)
    mold.cavities.update(part=hook)
    page = reverse("production:mold_edit", args=[mold.pk])
    form = owner_client.get(page).context["rows"].first[0]
    assert (form["part"].value(), form["parts_each"].value()) == (str(hook.pk), 1)
    owner_client.post(page, mold_typed(**cavity(bait, hook.pk)))
    assert mold.cavities.get().part == hook
    owner_client.post(page, mold_typed(**cavity(bait)))
    assert mold.cavities.get().part is None


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("part", "each", "field", "words"),
    [
        ("", "2", "part", "Which part"),
        ("hook", "0", "parts_each", "at least 1"),
        ("hook", "1½", "parts_each", "whole number"),
        ("dye", "1", "part", "Choose one from the list"),
    ],
)
def test_a_part_that_cannot_lie_there_is_said_at_its_field(
    owner_client, shop, part, each, field, words
):
    things = {
        "hook": factories.make_item("part", "Wide hook 3/0", "each"),
        "dye": factories.make_item("colorant", "Copper dusk"),
    }
    chosen = things[part].pk if part else ""
    data = mold_typed(**cavity(factories.make_bait(), chosen, each))
    response = owner_client.post(reverse("production:mold_new"), data)
    assert response.status_code == 422
    assert words in response.context["rows"].first[0].errors[field][0]
    assert not Mold.objects.exists()


@pytest.mark.django_db
def test_a_weighed_mold_keeps_its_hooks_too(owner_client, shop):
    hook = factories.make_item("part", "Wide hook 3/0", "each")
    spec = molds.WeighedSpec(factories.make_bait(), 4, Decimal("20"), molds.Inlay(hook, 1))
    facts = {"name": "Eel", "shot_g": Decimal("26"), "density": Decimal("1.03")}
    assert molds.save_weighed_mold(cavities=[spec], **facts).cavities.get().part == hook


@pytest.mark.django_db
def test_only_what_is_counted_lies_in_a_cavity():
    dye = factories.make_item("colorant", "Copper dusk")
    spec = molds.CavitySpec(factories.make_bait(), 4, Decimal(5), molds.Inlay(dye))
    with pytest.raises(Refusal, match="no part that is counted"):
        molds.save_mold(name="Wrong", shot_ml=Decimal(26), cavities=[spec])
