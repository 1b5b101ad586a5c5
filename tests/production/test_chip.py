"""The chip drawing. Values of sRGB and of the shape come from outside where a source is named."""

import math
import re
from xml.etree import ElementTree

import pytest
from django.template import engines

from production import chip

SVG = "{http://www.w3.org/2000/svg}"
HEAVY_RED = ("#b3261e", 0.015, "dye")


def layer(color="#3f7d2b", **fields):
    return chip.Layer(color, **fields)


def draw(*layers, seed="moss", **options):
    return chip.svg(layers or [layer()], seed=seed, **options)


def fills(drawing):
    return [path.get("fill") for path in ElementTree.fromstring(drawing).iter(f"{SVG}path")]


def light(color):
    """Relative luminance; coefficients and curve as WCAG 2.2 defines them."""
    channels = [int(color[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return sum(w * c for w, c in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def hexagons(drawing, color):
    for path in ElementTree.fromstring(drawing).iter(f"{SVG}path"):
        if path.get("fill") == color:
            return path.get("d").count("M")
    return 0


def test_drawing_is_well_formed_and_scales_from_its_view_box():
    root = ElementTree.fromstring(draw(size=112))
    assert root.tag == f"{SVG}svg"
    assert (root.get("width"), root.get("viewBox")) == ("112", "0 0 48 48")


def test_same_recipe_draws_the_same_bytes_and_another_seed_moves_the_flake():
    flaked = layer(flakes=[chip.Flake("#101010", 0.89, 90)])
    assert draw(flaked, seed=7) == draw(flaked, seed=7)
    assert draw(flaked, seed=7) != draw(flaked, seed=8)


def test_drawing_needs_no_style_and_no_script():
    # The content policy of every page forbids both; ids would collide between two chips.
    flaked = layer(opacity=0.5, flakes=[chip.Flake("#101010", 0.89, 90)])
    for element in ElementTree.fromstring(draw(flaked, title="Moss")).iter():
        assert not {"style", "id", "class", "href"} & set(element.keys())
        assert not [name for name in element.keys() if name.startswith("on")]  # noqa: SIM118


def test_layers_lie_in_order_from_back_to_belly():
    drawing = draw(layer("#101010"), layer("#c0c0c0"), layer("#f0f0f0"))
    order = [fill for fill in fills(drawing) if fill in {"#101010", "#c0c0c0", "#f0f0f0"}]
    assert order == ["#101010", "#c0c0c0", "#f0f0f0"]
    root = ElementTree.fromstring(drawing)
    lowest = {
        path.get("fill"): max(float(y) for y in re.findall(r"[\d.]+ ([\d.]+)", path.get("d")))
        for path in root.iter(f"{SVG}path")
    }
    assert lowest["#101010"] < lowest["#c0c0c0"] < lowest["#f0f0f0"]


def test_layer_with_more_share_takes_more_of_the_bait():
    def back_reaches_down_to(share):
        drawing = draw(layer("#101010", share=share), layer("#f0f0f0", share=1))
        path = next(p for p in ElementTree.fromstring(drawing) if p.get("fill") == "#101010")
        return max(float(y) for y in re.findall(r"[\d.]+ ([\d.]+)", path.get("d")))

    assert back_reaches_down_to(1) < back_reaches_down_to(2) < back_reaches_down_to(5)


def test_more_flake_is_drawn_denser_up_to_what_the_eye_can_part():
    counts = [
        hexagons(draw(layer(flakes=[chip.Flake("#101010", 0.64, dose)])), "#101010")
        for dose in (0, 2, 20, 200, 200_000)
    ]
    assert counts[0] == 0 < counts[1] < counts[2] < counts[3] <= counts[4] <= chip.MOST_FLAKES


def test_larger_flake_is_drawn_larger():
    def width(size_mm):
        drawing = draw(layer(flakes=[chip.Flake("#101010", size_mm, 1)]))
        path = next(p for p in ElementTree.fromstring(drawing) if p.get("fill") == "#101010")
        corners = re.findall(r"([\d.]+) ([\d.]+)", path.get("d").split("Z")[0])
        xs, ys = zip(*[(float(x), float(y)) for x, y in corners], strict=True)
        return max(
            math.dist(a, b) for a in zip(xs, ys, strict=True) for b in zip(xs, ys, strict=True)
        )

    # Flake of .035 and .094 inch: 0.89 and 2.39 mm, drawn in proportion.
    assert width(2.39) / width(0.89) == pytest.approx(2.39 / 0.89, rel=0.1)


def test_flake_stays_inside_the_bait():
    drawing = draw(layer(flakes=[chip.Flake("#101010", 1.57, 500)]))
    path = next(p for p in ElementTree.fromstring(drawing) if p.get("fill") == "#101010")
    for x, y in re.findall(r"([\d.]+) ([\d.]+)", path.get("d")):
        assert min(chip.CURVE_X) < float(x) < max(chip.CURVE_X)
        assert min(chip.BACK_Y) < float(y) < max(chip.BELLY_Y)


def test_smaller_flake_of_the_same_weight_comes_in_greater_number():
    # Count per gram goes with 1/size² at equal thickness: .035 to .015 inch is 5.4 times (geometry).
    ratio = chip.flakes_per_ml(0.01, 0.015 * 25.4) / chip.flakes_per_ml(0.01, 0.035 * 25.4)
    assert ratio == pytest.approx(5.4, abs=0.05)


@pytest.mark.parametrize("kind", ["dye", "pigment", "pearl", "something new"])
@pytest.mark.parametrize("color", ["#b3261e", "#2a6f97", "#e8c547", "#101010"])
def test_more_colorant_gets_darker(color, kind):
    steps = [light(chip.mix_color([(color, dose, kind)])) for dose in (0, 0.004, 0.012, 0.03, 0.06)]
    assert steps == sorted(steps, reverse=True)
    assert steps[0] > steps[-1]


def test_light_dose_of_a_bottle_is_less_colorful_than_a_medium_one():
    def spread(dose):
        color = chip.mix_color([("#b3261e", dose, "dye")])
        channels = [int(color[at : at + 2], 16) for at in (1, 3, 5)]
        return max(channels) - min(channels)

    assert spread(0.001) < spread(0.004) < spread(0.012)


def test_two_colorants_mix_the_same_whichever_goes_in_first():
    blue = ("#2a6f97", 0.006, "pigment")
    assert chip.mix_color([HEAVY_RED, blue]) == chip.mix_color([blue, HEAVY_RED])


def test_half_the_absorbance_twice_is_the_whole():
    # Beer–Lambert: absorbance is proportional to concentration, so doses of one bottle add up.
    assert chip.mix_color([HEAVY_RED]) == chip.mix_color([("#b3261e", 0.0075, "dye")] * 2)


def test_clear_plastic_has_the_color_of_the_base():
    assert chip.mix_color([]) == chip.BASE_COLOR


@pytest.mark.parametrize(
    ("byte", "linear"),
    # IEC 61966-2-1 transfer function; values from tables of coloraide 8.13.1, checked on both
    # sides of the join between the straight and the curved part (10 and 11).
    [(0, 0.0), (10, 0.003035), (11, 0.003347), (128, 0.215861), (188, 0.502886), (255, 1.0)],
)
def test_bytes_become_linear_light_and_back(byte, linear):
    assert chip._linear(byte) == pytest.approx(linear, abs=5e-7)
    assert chip._encode(chip._linear(byte)) == byte


def test_pigment_hides_more_than_the_same_dose_of_dye():
    # Common practice, no source.
    dye, pigment = (chip.mix_opacity([("#101010", 0.01, kind)]) for kind in ("dye", "pigment"))
    assert chip.BASE_OPACITY < dye < pigment < 1


@pytest.mark.parametrize(
    "color",
    [
        '#fff"/><script>alert(1)</script>',
        "red",
        "#12345",
        "#1234567",
        "#12345g",
        "#123456\n",
        "",
        None,
    ],
)
def test_what_is_not_a_color_is_refused(color):
    with pytest.raises(chip.ChipError):
        draw(layer(color))
    with pytest.raises(chip.ChipError):
        draw(layer(flakes=[chip.Flake(color, 0.64, 50)]))
    with pytest.raises(chip.ChipError):
        chip.mix_color([(color, 0.01, "dye")])


@pytest.mark.parametrize(
    "title",
    [
        "Moss & ember",
        "</title><script>alert(1)</script>",
        '" onload="alert(1)',
        "]]><!--",
        "Moss\x00\x1b\ud800 night",
    ],
)
def test_title_is_text_whatever_it_holds(title):
    root = ElementTree.fromstring(draw(title=title))
    kept = "".join(c for c in title if c not in "\x00\x1b\ud800")
    assert root.find(f"{SVG}title").text == kept
    assert {child.tag for child in root} == {f"{SVG}title", f"{SVG}path"}
    assert root.get("role") == "img"
    assert root.get("onload") is None


def test_chip_without_a_title_is_decoration():
    root = ElementTree.fromstring(draw())
    assert root.get("aria-hidden") == "true"
    assert root.find(f"{SVG}title") is None


def test_template_shows_the_drawing_as_it_is():
    shown = engines["django"].from_string("{{ chip }}").render({"chip": draw(title="A & B")})
    assert shown == draw(title="A & B")


@pytest.mark.parametrize("wrong", [-0.01, math.nan, math.inf])
def test_impossible_amounts_are_refused(wrong):
    with pytest.raises(chip.ChipError):
        chip.mix_color([("#101010", wrong, "dye")])
    with pytest.raises(chip.ChipError):
        draw(layer(flakes=[chip.Flake("#101010", 0.64, wrong)]))
    with pytest.raises(chip.ChipError):
        draw(layer(opacity=wrong))
    with pytest.raises(chip.ChipError):
        draw(layer(share=wrong))


def test_chip_needs_a_layer_and_a_sensible_size():
    with pytest.raises(chip.ChipError):
        chip.svg([], seed=1)
    with pytest.raises(chip.ChipError):
        draw(size=100_000)
