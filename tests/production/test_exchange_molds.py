"""Molds from a file: baits and cavities with them; a second time only what changed."""

from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from production import exports, mold_sheet
from production.models import Bait, Cavity, Mold
from production.services import molds
from tests import factories
from tests.inventory import exchange_pages as sheets
from tests.inventory.pages import page

pytestmark = pytest.mark.django_db
URL = reverse("production:molds_file")
HEAD = "mold,bait,bait length,cavities,bait volume,shot volume"
FOUR = f"{HEAD}\nReed Eel four,Reed Eel,4 in,4,5,26 mL\n"


def upload(client, data, name="molds.csv"):
    return sheets.upload(client, URL, data, name)


def load(client, data, name="molds.csv"):
    return sheets.load(client, URL, data, name)


def test_the_page_names_the_columns_and_gives_files_to_start_from(owner_client):
    text = page(owner_client, URL)
    for column in mold_sheet.COLUMNS:
        assert f"<code>{column.name}</code>" in text
    assert reverse("production:molds_file_now_xlsx") in text


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_the_empty_file_is_previewed_then_kept(owner_client, form):
    end = "" if form == "csv" else "_xlsx"
    data = owner_client.get(reverse(f"production:molds_file_template{end}")).content
    preview = upload(owner_client, data, f"molds.{form}")
    assert preview.status_code == 200, sheets.problems(preview)
    content = preview.content.decode()
    assert "2 new, 0 changed, 0 as before" in content
    assert "new bait Reed Eel: 101.6 mm" in content and "Reed Eel: 4 × 5 mL" in content
    assert not Mold.objects.exists() and not Bait.objects.exists()
    assert owner_client.post(URL, sheets.confirmation(preview)).url == reverse("production:molds")
    mold = Mold.objects.get(name="Reed Eel four")
    cavity = mold.cavities.get()
    # 4 in = 101.6 mm: the inch is 25.4 mm (NIST SP 811, appendix B).
    assert (cavity.bait.length_mm, cavity.count, cavity.bait_ml) == (Decimal("101.6"), 4, 5)
    assert (mold.shot_ml, mold.copies, mold.minutes_per_cycle) == (26, 2, 6)
    assert Bait.objects.get(name="Mud Minnow").flat


def test_a_mold_of_two_baits_with_a_part_is_read_from_its_lines(owner_client):
    hook = factories.make_item("part", "Long hook", "each")
    load(
        owner_client,
        f"{HEAD},part,parts each,notes\nPair,Reed Eel,4 in,2,5,30 mL,long hook,2,Warm it first\n"
        "pair,Mud Minnow,75 mm,1,6.5,,,,\n",
    )
    mold = Mold.objects.get()
    assert mold.notes == "Warm it first"
    assert list(mold.cavities.values_list("bait__name", "count", "part", "parts_each")) == [
        ("Reed Eel", 2, hook.pk, 2),
        ("Mud Minnow", 1, None, 1),
    ]


def test_a_changed_file_changes_only_what_changed(owner_client):
    hook = factories.make_item("part", "Long hook", "each")
    load(owner_client, FOUR + "Other,Mud Minnow,75 mm,1,6.5,9 mL\n")
    Cavity.objects.filter(mold__name="Other").update(part=hook)
    mold = Mold.objects.get(name="Other")
    molds.save_bait(
        bait=Bait.objects.get(name="Reed Eel"), name="Reed Eel", length_mm=100, flat=True
    )
    changed = f"{HEAD},copies\nReed Eel four,Reed Eel,100 mm,5,5,28 mL,3\nOther,Mud Minnow,,2,4,,\n"
    preview = upload(owner_client, changed)
    content = preview.content.decode()
    assert "0 new, 2 changed, 0 as before" in content
    for words in (
        "shot volume: 26 mL → 28 mL",
        "Reed Eel: 4 × 5 mL → 5 × 5 mL",
        "copies: 1 → 3",
        "Mud Minnow: 1 × 6.5 mL with 1 × Long hook → 2 × 4 mL with 1 × Long hook",
    ):
        assert words in content
    owner_client.post(URL, sheets.confirmation(preview))
    assert mold.cavities.get().part == hook
    assert Bait.objects.get(name="Reed Eel").flat
    again = upload(owner_client, changed)
    assert "Nothing to change" in again.content.decode()


def test_a_bait_that_is_left_out_is_taken_from_the_mold(owner_client):
    load(owner_client, FOUR + "Reed Eel four,Mud Minnow,75 mm,1,3,\n")
    preview = upload(owner_client, FOUR)
    assert "Mud Minnow is taken from the mold" in preview.content.decode()
    owner_client.post(URL, sheets.confirmation(preview))
    assert Mold.objects.get().cavities.get().bait.name == "Reed Eel"


@pytest.mark.parametrize(
    ("line", "column", "words"),
    [
        (",Reed Eel,4 in,4,5,26", "mold", "no name"),
        ("Four,,4 in,4,5,26", "bait", "no name"),
        ("Four,Pike,,4,5,26", "bait length", "“Pike” is new: write its length"),
        ("Four,Pike,4,4,5,26", "bait length", "with in or mm"),
        ("Four,Pike,4 m,4,5,26", "bait length", "with in or mm"),
        ("Four,Pike,4000 mm,4,5,26", "bait length", "between 1 mm and 2000 mm"),
        ("Four,Pike,4 in,,5,26", "cavities", "missing"),
        ("Four,Pike,4 in,2.5,5,26", "cavities", "whole number"),
        ("Four,Pike,4 in,4,,26", "bait volume", "missing"),
        ("Four,Pike,4 in,4,5 g,26", "bait volume", "Write a volume"),
        ("Four,Pike,4 in,4,0,26", "bait volume", "above 0"),
        ("Four,Pike,4 in,4,5,", "shot volume", "how much one shot"),
        ("Four,Pike,4 in,4,5,19", "shot volume", "The baits hold 20 mL together"),
        ("Put away,Pike,4 in,4,5,26", "mold", "put away"),
        ("Four,Old Eel,4 in,4,5,26", "bait", "put away"),
    ],
)
def test_a_line_that_is_wrong_is_named_and_nothing_is_kept(owner_client, line, column, words):
    Mold.objects.create(name="Put away", shot_ml=5, archived=True)
    Bait.objects.create(name="Old Eel", length_mm=90, archived=True)
    response = upload(owner_client, f"{FOUR}{line}\n")
    assert response.status_code == 422
    (trouble,) = response.context["review"].troubles
    assert (trouble.line, trouble.column) == (3, column)
    assert words in trouble.text
    assert Mold.objects.count() == Bait.objects.count() == 1


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ("Four,Pike,4 in,4,5,26,,\nFour,Pike,4 in,3,5,26,,\n", "already in “Four”"),
        ("Four,Pike,4 in,4,5,26,,\nTwo,Pike,5 in,2,5,26,,\n", "another one on line 2"),
        ("Four,Pike,4 in,4,5,26,,\nFour,Perch,4 in,1,5,27,,\n", "Make them agree"),
        ("Four,Pike,4 in,4,5,26,Long hok,\n", "Did you mean “Long hook”?"),
        ("Four,Pike,4 in,4,5,26,,2\n", "which part"),
    ],
)
def test_lines_that_contradict_each_other_are_named(owner_client, lines, words):
    factories.make_item("part", "Long hook", "each")
    response = upload(owner_client, f"{HEAD},part,parts each\n{lines}")
    assert any(words in problem for problem in sheets.problems(response))
    assert not Mold.objects.exists()


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_the_molds_as_they_stand_load_again_and_nothing_changes(owner_client, form):
    hook = factories.make_item("part", "=Hook", "each")
    load(owner_client, f"{FOUR}Two,Mud Minnow,2.953 in,2,6.543,17.123 mL\n")
    Cavity.objects.filter(mold__name="Two").update(part=hook, parts_each=3)
    Mold.objects.filter(name="Two").update(notes="-warm\r\nit first", minutes_per_cycle="4.5")
    before = [list(model.objects.order_by("id").values()) for model in (Mold, Bait, Cavity)]
    end = "" if form == "csv" else "_xlsx"
    data = owner_client.get(reverse(f"production:molds_file_now{end}")).content
    preview = upload(owner_client, data, f"molds.{form}")
    assert preview.status_code == 200, sheets.problems(preview)
    assert "Nothing to change" in preview.content.decode()
    owner_client.post(URL, sheets.confirmation(preview))
    assert [list(m.objects.order_by("id").values()) for m in (Mold, Bait, Cavity)] == before


def test_a_double_press_keeps_once(owner_client):
    sent = sheets.confirmation(upload(owner_client, FOUR))
    assert [owner_client.post(URL, sent).status_code for _ in range(2)] == [302, 302]
    assert Mold.objects.count() == 1


def _queries(client, count):
    lines = "".join(f"Mold {n},Bait {n},4 in,4,5,26 mL\n" for n in range(count))
    load(client, f"{HEAD}\n{lines}")
    with CaptureQueriesContext(connection) as taken:
        upload(client, f"{HEAD}\n{lines}")
    return len([query for query in taken if "SAVEPOINT" not in query["sql"]])


def test_looking_again_asks_no_more_of_the_database_for_more_molds(owner_client):
    assert _queries(owner_client, 10) == _queries(owner_client, 20)


def test_the_sheet_is_read_row_by_row():
    factories.make_mold()
    (row,) = exports.mold_sheet().rows()
    assert row[0] == "Reed Eel four"


def test_a_helper_does_not_open_it(helper_client):
    for name in ("molds_file", "molds_file_now", "recipes_file", "recipes_file_now"):
        assert helper_client.get(reverse(f"production:{name}")).status_code == 403
