"""Pictures kept with a mold."""

import pytest
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from inventory.models import StoredFile
from inventory.services import files
from production.models import MoldPicture
from production.services import pictures
from tests import factories
from tests.inventory.pages import page, queries_of
from tests.inventory.pictures import PDF, opened, phone_picture, picture

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def folder(settings, tmp_path):
    settings.FILES_DIR = tmp_path / "files"
    return settings.FILES_DIR


@pytest.fixture
def mold():
    return factories.make_mold("Reed Eel four")


def upload(data=None, name="IMG_0001.jpg"):
    return SimpleUploadedFile(name, picture() if data is None else data, "image/jpeg")


def address(mold) -> str:
    return reverse("production:mold", args=[mold.pk])


def new(mold) -> str:
    return reverse("production:mold_picture_new", args=[mold.pk])


def lying(folder) -> list:
    return sorted(folder.iterdir()) if folder.exists() else []


def test_a_picture_is_kept_and_shown_with_its_words(owner_client, owner, mold, folder):
    assert "No picture is kept yet" in page(owner_client, address(mold))
    sent = {"file": upload(phone_picture(6)), "name": "The worn gate"}
    assert owner_client.post(new(mold), sent).url == address(mold)
    kept = mold.pictures.get().file
    assert (kept.name, kept.by, kept.content_type) == ("The worn gate", owner, "image/jpeg")
    text = page(owner_client, address(mold))
    source = reverse("inventory:file", args=[kept.pk])
    assert f'<img src="{source}" alt="The worn gate"' in text
    drawn = opened(lying(folder)[0].read_bytes())
    assert drawn.size == (300, 400) and not drawn.getexif()


def test_without_words_it_is_called_after_its_mold(owner_client, mold):
    owner_client.post(new(mold), {"file": upload()})
    assert 'alt="Picture of Reed Eel four"' in page(owner_client, address(mold))


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (PDF, "This is a PDF, not a picture."),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "neither a PDF nor"),
        (picture()[:500], "damaged"),
        (picture() + bytes(15_000_000), "may have 15 MB"),
        (b"", "The file is empty"),
    ],
)
def test_what_is_no_picture_is_refused_and_the_words_are_kept(
    owner_client, mold, folder, data, said
):
    answer = owner_client.post(new(mold), {"file": upload(data), "name": "The worn gate"})
    assert answer.status_code == 422
    assert said in answer.context["form"].errors["file"][0]
    assert 'value="The worn gate"' in answer.content.decode()
    assert not StoredFile.objects.exists() and not lying(folder)


@pytest.mark.django_db(transaction=True)
def test_a_picture_is_removed_after_a_question(owner_client, mold, folder):
    kept = pictures.add(mold=mold, file=upload(), by=None)
    url = reverse("production:mold_picture_remove", args=[kept.pk])
    assert "Remove Picture of Reed Eel four?" in page(owner_client, url)
    assert len(lying(folder)) == 1
    assert owner_client.post(url).url == address(mold)
    assert not MoldPicture.objects.exists() and not StoredFile.objects.exists()
    assert not lying(folder)
    page(owner_client, url, status=404)


def test_a_helper_sees_the_pictures_and_changes_none(helper_client, mold):
    kept = pictures.add(mold=mold, file=upload(), by=None)
    text = page(helper_client, address(mold))
    assert "Picture of Reed Eel four" in text
    for owners in (new(mold), reverse("production:mold_picture_remove", args=[kept.pk])):
        assert owners not in text
        assert helper_client.post(owners).status_code == 403


def test_a_mold_has_a_page_full_of_pictures_and_no_more(mold):
    for _ in range(files.MOST):
        pictures.add(mold=mold, file=upload(picture(size=(8, 8))), by=None)
    with pytest.raises(ValidationError, match="20 files are kept with Reed Eel four already"):
        pictures.add(mold=mold, file=upload(), by=None)


def test_the_page_takes_the_same_queries_for_10_pictures_and_20(owner_client, mold):
    for _ in range(10):
        pictures.add(mold=mold, file=upload(picture(size=(8, 8))), by=None)
    ten = queries_of(owner_client, address(mold))
    for _ in range(10):
        pictures.add(mold=mold, file=upload(picture(size=(8, 8))), by=None)
    assert queries_of(owner_client, address(mold)) == ten


def test_a_mold_or_picture_that_is_not_there_is_not_found(owner_client, mold):
    page(owner_client, reverse("production:mold_picture_new", args=[mold.pk + 1]), status=404)
    page(owner_client, reverse("production:mold_picture_remove", args=[1]), status=404)
