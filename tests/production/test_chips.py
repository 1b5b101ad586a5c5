"""The chip tag: a pattern's drawing inside a page."""

from decimal import Decimal
from xml.etree import ElementTree

import pytest
from django.template import Context, Template

from production import queries_colors
from production.models import Pattern
from tests import factories

pytestmark = pytest.mark.django_db

TAG = "{% load chips %}{% for pattern in patterns %}{% chip pattern size='s' title=title %}{% endfor %}"


@pytest.fixture
def version():
    green = factories.make_item("colorant", "Marsh green", color="#2f6b3a", color_kind="dye")
    flake = factories.make_flake(flake_size_in=Decimal("0.04"))
    return factories.make_recipe(grade=factories.make_plastisol(), doses={green: 1.5, flake: 0.4})


def draw(title=""):
    patterns = list(queries_colors.patterns_with_colors())
    return Template(TAG).render(Context({"patterns": patterns, "title": title}))


def test_chip_is_one_well_formed_drawing_in_its_span(version):
    span = ElementTree.fromstring(draw())
    assert span.get("class") == "chip chip-s"
    assert [child.tag for child in span] == ["{http://www.w3.org/2000/svg}svg"]


def test_title_with_markup_is_shown_as_text(version):
    span = ElementTree.fromstring(draw("<script>alert('1')</script>"))
    assert not list(span.iter("script"))
    assert "<script>" in "".join(span.itertext())


def test_fetched_patterns_are_drawn_without_a_query(version, django_assert_num_queries):
    other = factories.make_recipe("Pale Reed", grade=version.grade, doses={})
    factories.make_laminate("Two", [version, other], [500_000, 500_000])
    patterns = list(queries_colors.patterns_with_colors())
    context = Context({"patterns": patterns, "title": ""})
    with django_assert_num_queries(0):
        Template(TAG).render(context)


def test_more_colorant_draws_another_chip(version):
    before = draw()
    version.doses.filter(item__kind="colorant").update(quantity=9_000_000)
    assert draw() != before


def test_item_without_a_color_is_left_out_of_the_drawing(version):
    version.doses.get(item__kind="flake").item.__class__.objects.update(color="")
    assert "#2f6b3a" not in draw()


def test_flake_in_spoons_is_drawn_by_its_weight(version):
    spooned = factories.make_item(
        "flake", "Spoon flake", "mL", color="#c8502a", g_per_tsp=Decimal(2)
    )
    dose = version.doses.get(item__kind="flake")
    dose.item = spooned
    dose.save()
    assert "#c8502a" in draw()


def test_pattern_without_layers_has_an_empty_chip():
    Pattern.objects.create(name="Bare")
    assert draw() == '<span class="chip chip-s"></span>'
