"""Other sizes of a flake that a recipe's author would pour when one runs out."""

from decimal import Decimal

import pytest
from django.urls import reverse

from production.models import DoseStandIn, RecipeVersion
from production.services import recipes
from production.services.refusals import Refusal
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def shelf():
    base = factories.make_plastisol()
    fine, coarse = factories.make_flake("Fine flake"), factories.make_flake("Coarse flake")
    dye = factories.make_item(name="Moss tint")
    return base, fine, coarse, dye


def _form(shelf, *, stand_in=None, **more):
    base, fine, _, dye = shelf
    data = {"name": "Glint", "grade": base.pk, "reference": "100 mL", "notes": ""}
    data |= {"dose-0-item": fine.pk, "dose-0-amount": "2 g"}
    data |= {"dose-1-item": dye.pk, "dose-1-amount": "1 mL"}
    if stand_in:
        data |= {"stand-in-0-item": stand_in[0].pk, "stand-in-0-instead": stand_in[1].pk}
    return data | more


def _pairs(version) -> list[tuple[str, str]]:
    return [(spec.item.name, spec.instead.name) for spec in recipes.stand_ins_of(version)]


def test_a_stand_in_is_kept_with_the_recipe_and_shown_on_its_page(owner_client, shelf):
    _, fine, coarse, _ = shelf
    answer = owner_client.post(
        reverse("production:recipe_new"), _form(shelf, stand_in=(fine, coarse))
    )
    assert answer.status_code == 302
    version = RecipeVersion.objects.get()
    assert _pairs(version) == [("Fine flake", "Coarse flake")]
    page = owner_client.get(answer.headers["Location"]).content.decode()
    assert "when Fine flake runs out" in page


@pytest.mark.parametrize(
    ("pick", "words"),
    [
        (lambda s: (s[1], s[1]), "can&#x27;t stand in for itself"),
        (lambda s: (s[2], s[1]), "It is no dose of this recipe"),
        (lambda s: (s[3], s[1]), "Choose one from the list"),
    ],
)
def test_a_stand_in_that_makes_no_sense_is_refused_at_its_line(owner_client, shelf, pick, words):
    answer = owner_client.post(reverse("production:recipe_new"), _form(shelf, stand_in=pick(shelf)))
    assert answer.status_code == 422 and words in answer.content.decode()
    assert not RecipeVersion.objects.exists()


def test_flake_that_is_measured_otherwise_does_not_stand_in(shelf):
    _, fine, _, _ = shelf
    spooned = factories.make_item("flake", "Spooned flake", "mL")
    assert "is kept in mL" in recipes.why_no_stand_in(fine, spooned)


def test_a_used_version_keeps_its_stand_ins_when_the_next_is_written(owner_client, shelf):
    base, fine, coarse, _ = shelf
    version = factories.make_recipe("Glint", grade=base, doses={fine: 2})
    DoseStandIn.objects.create(dose=version.doses.get(), item=coarse)
    RecipeVersion.objects.filter(pk=version.pk).update(frozen_at=version.written_at)
    url = reverse("production:recipe_revise", args=[version.recipe_id])
    assert "Coarse flake" in owner_client.get(url).content.decode()
    data = _form(shelf, version=version.pk)
    del data["name"]
    assert owner_client.post(url, data).status_code == 302
    newest = RecipeVersion.objects.get(number=2)
    assert _pairs(version) == [("Fine flake", "Coarse flake")] and _pairs(newest) == []


def test_a_recipe_that_is_changed_elsewhere_keeps_the_stand_ins_of_the_flakes_that_stay(shelf):
    base, fine, coarse, dye = shelf
    version = factories.make_recipe("Glint", grade=base, doses={fine: 2, dye: 1})
    DoseStandIn.objects.create(dose=version.doses.get(item=fine), item=coarse)
    facts = {"grade": base, "reference_amount": Decimal(100), "reference_unit": "mL"}
    again = recipes.revise(version, doses=[recipes.DoseSpec(fine, Decimal(3), "g")], **facts)
    assert _pairs(again) == [("Fine flake", "Coarse flake")]
    less = recipes.revise(again, doses=[recipes.DoseSpec(dye, Decimal(3), "mL")], **facts)
    assert _pairs(less) == []
    with pytest.raises(Refusal, match="no dose of this recipe"):
        recipes.revise(
            less,
            doses=[recipes.DoseSpec(dye, Decimal(3), "mL")],
            stand_ins=[recipes.StandInSpec(fine, coarse)],
            **facts,
        )
