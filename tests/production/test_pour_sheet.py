"""The pour sheet, read back from its pages."""

import dataclasses
import io

import pypdf
import pypdfium2
import pytest

from production import pour_sheet

RUSTY = pour_sheet.Batch(
    recipe="Rusty Lantern",
    base="180 mL",
    cup="Cup 2",
    chip="#b5532a",
    doses=(pour_sheet.Dose("Ember red", "14 drops"), pour_sheet.Dose("Łąka flake", "¼ tsp")),
    moldings=(pour_sheet.Molding("Marsh Crawler 4 in", 6),),
    note="Goes on from Milk Glass: use 60 mL",
)
EVENING = pour_sheet.PourSheet("Pine Hollow Baits", "2026-11-25", (RUSTY,))


def _evening(count, **changes):
    batches = tuple(dataclasses.replace(RUSTY, recipe=f"Lantern {n}") for n in range(count))
    return dataclasses.replace(EVENING, batches=batches, **changes)


def _pages(data):
    return [
        " ".join(page.extract_text().split()) for page in pypdf.PdfReader(io.BytesIO(data)).pages
    ]


def _boxes(data):
    pages = pypdfium2.PdfDocument(data)
    for page in pages:
        text = page.get_textpage()
        for i in range(text.count_chars()):
            if text.get_text_range(i, 1).strip():
                yield page.get_size(), text.get_charbox(i)


def test_sheet_names_the_evening_and_what_goes_into_each_cup():
    (text,) = _pages(pour_sheet.draw(EVENING))
    for words in (
        "Pour sheet 2026-11-25",
        "Pine Hollow Baits",
        "Rusty Lantern",
        "180 mL",
        "Cup 2",
        "14 drops Ember red",
        "¼ tsp Łąka flake",
        "6 × Marsh Crawler 4 in",
        "Goes on from Milk Glass",
    ):
        assert words in text


def test_sheet_has_columns_for_what_really_happened():
    (text,) = _pages(pour_sheet.draw(EVENING))
    for column in ("Really used", "Good", "Rejects", "Leftover"):
        assert column in text


def test_every_page_says_what_can_hurt():
    pages = _pages(pour_sheet.draw(_evening(20)))
    assert len(pages) > 1
    for text in pages:
        assert "One drop of water can throw hot plastic." in text
        assert "Gloves, sleeves, face shield. Thermometer, not guesswork." in text
        assert "Cool running water, 20 minutes. Don't peel plastic." in text
        assert text.count("Follow the data sheet, local rules and qualified advice.") == 2


@pytest.mark.parametrize("paper", ["letter", "a4"])
@pytest.mark.parametrize("count", [1, 4, 7])
def test_usual_evening_fits_on_one_page(paper, count):
    assert len(_pages(pour_sheet.draw(_evening(count, paper=paper)))) == 1


def test_type_is_larger_on_an_evening_of_few_batches():
    def height(count):
        data = pour_sheet.draw(_evening(count))
        text = pypdfium2.PdfDocument(data)[0].get_textpage()
        at = text.get_text_range().index("Lantern")
        _left, bottom, _right, top = text.get_charbox(at)
        return top - bottom

    assert height(2) > 1.2 * height(14)


LONG = dataclasses.replace(
    RUSTY,
    recipe="Midnight Sedge over Amber (belly, down), filling 2",
    doses=tuple(pour_sheet.Dose(f"Stillpool medium {n}", "157 mL (161.7 g)") for n in range(6)),
)


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_nine_batches_of_five_doses_stand_on_one_page_as_cards(paper):
    long = dataclasses.replace(LONG, doses=LONG.doses[:5])
    batches = tuple(dataclasses.replace(long, recipe=f"Lantern {n}:") for n in range(9))
    data = pour_sheet.draw(dataclasses.replace(EVENING, batches=batches, paper=paper))
    [text] = _pages(data)
    assert all(text.count(f"Lantern {n}:") == 1 for n in range(9))
    for words, times in (("Stillpool medium", 45), ("good", 9), ("rejects", 9), ("Leftover", 9)):
        assert text.count(words) == times
    for (width, height), (left, bottom, right, top) in _boxes(data):
        assert left >= 0 and right <= width and bottom >= 0 and top <= height


@pytest.mark.parametrize("count", range(1, 30, 4))
def test_no_card_runs_over_the_foot_of_its_page(count):
    batches = tuple(
        dataclasses.replace(
            LONG, doses=LONG.doses[: 1 + n % 6], moldings=LONG.moldings * (1 + n % 3)
        )
        for n in range(count)
    )
    data = pour_sheet.draw(dataclasses.replace(EVENING, batches=batches))
    for page in pypdfium2.PdfDocument(data):
        boxes = [drawn.get_bounds() for drawn in page.get_objects(filter=[2])]
        # The words for a burn stand 42 points above the edge.
        assert min(bottom for _left, bottom, _right, _top in boxes) > 52


def test_long_evening_goes_on_with_every_batch_once():
    pages = _pages(pour_sheet.draw(_evening(20)))
    assert f"Page 2 of {len(pages)}" in pages[1]
    text = " ".join(pages)
    assert all(text.count(f"Lantern {n} ") == 1 for n in range(20))


def test_chip_is_printed_in_its_color_and_a_missing_one_as_an_empty_frame():
    def colors(batch):
        data = pour_sheet.draw(dataclasses.replace(EVENING, batches=(batch,)))
        image = pypdfium2.PdfDocument(data)[0].render(scale=2).to_pil().convert("RGB")
        return {color for _count, color in image.getcolors(1 << 24)}

    assert (0xB5, 0x53, 0x2A) in colors(RUSTY)
    assert (0xB5, 0x53, 0x2A) not in colors(dataclasses.replace(RUSTY, chip=""))


def test_tick_boxes_stand_at_each_batch_dose_and_mold_and_at_the_check():
    page = pypdfium2.PdfDocument(pour_sheet.draw(EVENING))[0]
    bounds = [obj.get_bounds() for obj in page.get_objects(filter=[2])]
    sizes = [(right - left, top - bottom) for left, bottom, right, top in bounds]
    small_squares = [w for w, h in sizes if abs(w - h) < 0.5 and 5 < w < 20]
    assert len(small_squares) == 1 + 1 + 2 + 1


def test_long_names_and_odd_characters_stay_on_the_page():
    batch = dataclasses.replace(
        RUSTY,
        recipe="Midnight<i>Copper&Shimmer" * 3,
        doses=(pour_sheet.Dose("W" * 60, "3 drops"),),
        moldings=(pour_sheet.Molding("M" * 50, 4),),
    )
    sheet = dataclasses.replace(EVENING, batches=(batch,), shop="Shop " * 40, notes="Note " * 80)
    for (width, height), (left, bottom, right, top) in _boxes(pour_sheet.draw(sheet)):
        assert left >= 0 and right <= width and bottom >= 0 and top <= height


def test_figure_is_never_parted_from_its_unit():
    (text,) = _pages(pour_sheet.draw(_evening(1)))
    lines = pypdf.PdfReader(io.BytesIO(pour_sheet.draw(_evening(1)))).pages[0].extract_text()
    assert "4 in" in text
    assert not any(line.strip() == "in" for line in lines.splitlines())


def test_same_evening_gives_the_same_bytes():
    assert pour_sheet.draw(EVENING) == pour_sheet.draw(EVENING)


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"batches": ()}, "no batch"),
        ({"paper": "napkin"}, "letter or a4"),
        ({"batches": (dataclasses.replace(RUSTY, chip="rust"),)}, "no #rrggbb"),
        ({"batches": (dataclasses.replace(RUSTY, doses=RUSTY.doses * 30),)}, "one page can hold"),
    ],
)
def test_sheet_that_cannot_be_drawn_is_refused_with_a_reason(changes, message):
    with pytest.raises(pour_sheet.PourSheetError, match=message):
        pour_sheet.draw(dataclasses.replace(EVENING, **changes))
