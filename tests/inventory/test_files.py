"""Safety data sheets and pictures kept with an item: taken in, shown, removed."""

import hashlib
import http.client
import io
import os
import stat
import struct
import threading
import zipfile
import zlib

import pytest
from cheroot.wsgi import Server
from django.core.exceptions import RequestDataTooBig, ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.wsgi import get_wsgi_application
from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from PIL import Image, ImageCms

from inventory import upload_handlers, uploaded
from inventory.models import ItemFile, StoredFile
from inventory.services import files
from tests import factories
from tests.inventory.pages import page, queries_of
from tests.inventory.pictures import LATITUDE, PDF, opened, phone_picture, picture

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def folder(settings, tmp_path):
    settings.FILES_DIR = tmp_path / "data" / "files"
    return settings.FILES_DIR


@pytest.fixture
def item():
    return factories.make_plastisol("Stillwater base")


def upload(data: bytes, name: str = "sheet.pdf", declared: str = "application/pdf"):
    return SimpleUploadedFile(name, data, declared)


def add(client, item, data, kind="picture", **sent):
    name, declared = sent.pop("name_sent", "photo.jpg"), sent.pop("declared", "image/jpeg")
    url = reverse("inventory:item_file_new", args=[item.pk])
    return client.post(url, {"kind": kind, "file": upload(data, name, declared), **sent})


def keep(item, data=None, kind="picture", **facts) -> ItemFile:
    data = picture() if data is None else data
    return files.add_item_file(item=item, kind=kind, file=upload(data), by=None, **facts)


def read(answer) -> bytes:
    return b"".join(answer.streaming_content)


def lying(folder) -> list:
    return sorted(folder.iterdir()) if folder.exists() else []


def refused(client, item, folder, data, **sent) -> str:
    """What the page says at the field of a file that it doesn't take in."""
    answer = add(client, item, data, name="The label", **sent)
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == ["file"]
    assert 'value="The label"' in answer.content.decode()
    assert not StoredFile.objects.exists() and not lying(folder)
    return str(answer.context["form"].errors["file"][0])


def test_a_data_sheet_is_kept_as_it_came_and_shown_on_the_items_page(owner_client, item, owner):
    answer = add(owner_client, item, PDF, "data sheet", name="Sheet of March")
    assert answer.url == reverse("inventory:item", args=[item.pk])
    stored = StoredFile.objects.get()
    assert (stored.name, stored.content_type, stored.by) == ("Sheet of March", uploaded.PDF, owner)
    assert (stored.size, stored.sha256) == (len(PDF), hashlib.sha256(PDF).hexdigest())
    assert files.path_of(stored.stored_as).read_bytes() == PDF
    text = page(owner_client, answer.url)
    assert "Sheet of March" in text and reverse("inventory:file", args=[stored.pk]) in text


def test_without_a_name_it_is_called_after_its_item_and_never_after_the_upload(owner_client, item):
    add(owner_client, item, PDF, "data sheet", name_sent="../../etc/passwd.pdf")
    add(owner_client, item, picture(), name_sent="..\\IMG_0001.jpg")
    names = [kept.file.name for kept in item.files.all()]
    assert names == ["Safety data sheet of Stillwater base", "Picture of Stillwater base"]
    assert 'alt="Picture of Stillwater base"' in page(
        owner_client, reverse("inventory:item", args=[item.pk])
    )


def test_the_same_picture_may_be_kept_twice(owner_client, item, folder):
    for _ in range(2):
        assert add(owner_client, item, picture()).status_code == 302
    assert len(lying(folder)) == 2


def test_an_item_without_files_says_what_to_do_next(owner_client, helper_client, item):
    url = reverse("inventory:item", args=[item.pk])
    new = reverse("inventory:item_file_new", args=[item.pk])
    assert new in page(owner_client, url)
    assert new not in page(helper_client, url)
    assert "Ask the owner" in page(helper_client, url)


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_every_picture_is_drawn_anew_as_jpeg(item, folder, kind):
    stored = keep(item, picture(kind)).file
    kept = opened(lying(folder)[0].read_bytes())
    assert (kept.format, kept.size, stored.content_type) == ("JPEG", (400, 300), "image/jpeg")
    red, green, blue = kept.getpixel((50, 50))
    assert red > 240 and green < 15 and blue < 15


def test_where_and_with_what_a_phone_took_a_picture_is_dropped(item, folder):
    data = phone_picture()
    assert opened(data).getexif().get_ifd(0x8825)[2] == LATITUDE
    keep(item, data)
    kept = opened(lying(folder)[0].read_bytes())
    assert not kept.getexif() and "exif" not in kept.info
    assert b"Invented Phone" not in lying(folder)[0].read_bytes()


@pytest.mark.parametrize(
    ("orientation", "red_corner"),
    # EXIF 2.32, 4.6.4: which corner of the scene the stored row 0, column 0 is.
    [
        (1, "upper left"),
        (2, "upper right"),
        (3, "lower right"),
        (4, "lower left"),
        (5, "upper left"),
        (6, "upper right"),
        (7, "lower right"),
        (8, "lower left"),
    ],
)
def test_a_picture_taken_sideways_stands_upright(item, folder, orientation, red_corner):
    keep(item, phone_picture(orientation))
    kept = opened(lying(folder)[0].read_bytes())
    assert kept.size == ((400, 300) if orientation < 5 else (300, 400))
    x = 20 if "left" in red_corner else kept.width - 20
    y = 20 if "upper" in red_corner else kept.height - 20
    assert kept.getpixel((x, y))[0] > 240


def test_a_large_picture_is_kept_smaller_and_a_small_one_as_it_is(item, folder):
    keep(item, picture(size=(4000, 3000)))
    assert opened(lying(folder)[0].read_bytes()).size == (2000, 1500)


def test_what_is_transparent_becomes_white(item, folder):
    out = io.BytesIO()
    Image.new("RGBA", (40, 40), (0, 0, 0, 0)).save(out, "PNG")
    keep(item, out.getvalue())
    assert opened(lying(folder)[0].read_bytes()).getpixel((9, 9)) == (255, 255, 255)


def test_of_a_moving_picture_the_first_frame_is_kept(item, folder):
    frames = [Image.new("RGB", (40, 40), color) for color in ("lime", "blue")]
    out = io.BytesIO()
    frames[0].save(out, "WEBP", save_all=True, append_images=frames[1:], lossless=True)
    keep(item, out.getvalue())
    red, green, blue = opened(lying(folder)[0].read_bytes()).getpixel((9, 9))
    assert green > 240 and red < 15 and blue < 15


@pytest.mark.parametrize("profile", [b"no profile at all", None])
def test_a_color_profile_is_applied_and_dropped(item, folder, profile):
    if profile is None:
        profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    keep(item, picture(icc_profile=profile))
    kept = opened(lying(folder)[0].read_bytes())
    assert "icc_profile" not in kept.info and kept.getpixel((50, 50))[0] > 240


def test_content_decides_and_neither_name_nor_declared_type(owner_client, item):
    add(owner_client, item, picture("PNG"), name_sent="sheet.pdf", declared="application/pdf")
    add(owner_client, item, PDF, "data sheet", name_sent="photo.png", declared="image/png")
    types = [kept.file.content_type for kept in item.files.all()]
    assert types == ["application/pdf", "image/jpeg"]


def test_a_photo_of_a_data_sheet_is_a_data_sheet(owner_client, item):
    assert add(owner_client, item, picture(), "data sheet").status_code == 302
    assert item.files.get().kind == ItemFile.Kind.DATA_SHEET


def test_a_pdf_is_no_picture(owner_client, item, folder):
    said = refused(owner_client, item, folder, PDF, name_sent="photo.png", declared="image/png")
    assert said.startswith("This is a PDF, not a picture.")


def _zip() -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        packed.writestr("sheet.pdf", PDF)
    return out.getvalue()


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b'<svg xmlns="http://www.w3.org/2000/svg"><script/></svg>', "neither a PDF nor"),
        (b"<!doctype html><script>alert(1)</script>" + PDF, "neither a PDF nor"),
        (_zip(), "neither a PDF nor"),
        (b"MZ\x90\x00" * 8, "neither a PDF nor"),
        (b"%", "neither a PDF nor"),
        (b"", "The file is empty"),
        (b"RIFF\x10\0\0\0WAVEfmt ", "neither a PDF nor"),
        (b"GIF89a" + b"\0" * 40, "This is a GIF"),
        (b"\0\0\0\x18ftypheic\0\0\0\0", "HEIC"),
        (picture()[:900], "damaged or was not sent whole"),
        (picture("PNG")[:-30], "damaged or was not sent whole"),
        (b"\xff\xd8\xff" + bytes(400), "damaged or was not sent whole"),
    ],
)
def test_what_is_no_pdf_and_no_whole_picture_is_refused_at_the_field(
    owner_client, item, folder, data, said
):
    assert said in refused(owner_client, item, folder, data)


def test_no_file_and_no_known_kind_are_asked_for(owner_client, item):
    url = reverse("inventory:item_file_new", args=[item.pk])
    answer = owner_client.post(url, {"kind": "deed", "name": "The label"})
    assert answer.status_code == 422
    assert answer.context["form"].errors["file"] == ["Choose a file."]
    assert "kind" in answer.context["form"].errors


def test_a_picture_that_unpacks_to_gigabytes_is_refused_before_it_is_decoded(
    owner_client, item, folder
):
    def chunk(name: bytes, content: bytes) -> bytes:
        # W3C PNG, 5.3: length, type, data, CRC of type and data.
        checked = name + content
        return struct.pack(">I", len(content)) + checked + struct.pack(">I", zlib.crc32(checked))

    for side in (8000, 12_000, 60_000):  # where Pillow says nothing, warns, and refuses
        header = struct.pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0)
        data = b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header)
        data += chunk(b"IDAT", zlib.compress(bytes(1000))) + chunk(b"IEND", b"")
        assert "more than 60 million pixels" in refused(owner_client, item, folder, data)


@pytest.mark.parametrize(("head", "size"), [(PDF, 10_000_001), (picture(), 15_000_001)])
def test_a_file_of_more_than_its_kind_may_have_is_refused(owner_client, item, folder, head, size):
    said = refused(owner_client, item, folder, head + bytes(size - len(head)))
    assert f"The file is {size // 1_000_000}.1 MB: a picture may have 15 MB, a PDF 10 MB." in said


def test_a_pdf_of_ten_megabytes_is_kept(item):
    stored = keep(item, PDF + bytes(10_000_000 - len(PDF)), "data sheet").file
    assert files.path_of(stored.stored_as).stat().st_size == 10_000_000


def test_fifty_megabytes_are_refused_at_the_field_and_never_held(owner_client, item, folder):
    said = refused(owner_client, item, folder, picture() + bytes(50_000_000))
    assert said.startswith("The file is 50.1 MB: a picture may have 15 MB, a PDF 10 MB.")


def test_a_file_that_was_let_pass_unread_is_never_taken_for_an_empty_one():
    passed = upload_handlers.TooLarge(None, "shelf.csv", "text/csv", 30_000_000)
    with pytest.raises(RequestDataTooBig):
        passed.read()
    with pytest.raises(RequestDataTooBig):
        list(passed)


@pytest.mark.django_db(transaction=True)
def test_the_real_server_answers_fifty_megabytes_and_goes_on(owner, item):
    client = Client()
    client.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
    url = reverse("inventory:item_file_new", args=[item.pk])
    client.get(url)
    token = client.cookies["csrftoken"].value
    server = Server(("127.0.0.1", 0), get_wsgi_application(), numthreads=2)
    server.prepare()
    serving = threading.Thread(target=server.serve)
    serving.start()
    try:
        link = http.client.HTTPConnection(*server.bind_addr, timeout=30)
        headers = {
            "Cookie": f"sessionid={client.cookies['sessionid'].value}; csrftoken={token}",
            "Content-Type": "multipart/form-data; boundary=lantern",
            "Host": "127.0.0.1",
        }
        part = '--lantern\r\nContent-Disposition: form-data; name="{}"{}\r\n\r\n'
        body = b"".join(
            [
                part.format("csrfmiddlewaretoken", "").encode() + token.encode() + b"\r\n",
                part.format("file", '; filename="sheet.pdf"').encode() + PDF,
                bytes(50_000_000) + b"\r\n--lantern--\r\n",
            ]
        )
        link.request("POST", url, body, headers)
        answer = link.getresponse()
        assert (answer.status, b"The file is 50.1 MB" in answer.read()) == (422, True)
        link.request("GET", url, headers=headers)  # on the same connection
        answer = link.getresponse()
        assert (answer.status, b"Keep it" in answer.read()) == (200, True)
        link.close()
    finally:
        server.stop()
        serving.join()


def test_files_are_private_to_the_account_that_serves_the_shop(item, folder):
    before = os.umask(0o000)
    try:
        keep(item)
    finally:
        os.umask(before)
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    [file] = lying(folder)
    assert stat.S_IMODE(file.stat().st_mode) == 0o600


def test_a_name_on_the_disk_tells_nothing_and_never_comes_back(item, folder):
    keep(item, name="../../secret")
    keep(item, name="../../secret")
    names = {path.name for path in lying(folder)}
    assert len(names) == 2
    assert all(len(name) == 36 and name.endswith(".jpg") for name in names)


@pytest.mark.parametrize("commits", [True, False])
@pytest.mark.django_db(transaction=True)
def test_a_file_stays_only_if_its_transaction_does(item, folder, commits):
    class Trouble(Exception):
        pass

    try:
        with transaction.atomic():
            with transaction.atomic():
                keep(item)
            assert len(lying(folder)) == 1
            if not commits:
                raise Trouble
    except Trouble:
        pass
    assert len(lying(folder)) == StoredFile.objects.count() == (1 if commits else 0)


def test_a_write_that_fails_leaves_nothing(item, folder):
    class TornFile(SimpleUploadedFile):
        def chunks(self, chunk_size=None):
            yield PDF
            raise OSError("The cable came out.")

    with pytest.raises(OSError, match="cable"):
        files.add_item_file(item=item, kind="data sheet", file=TornFile("a", PDF), by=None)
    assert not lying(folder) and not StoredFile.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_a_removed_file_goes_from_the_disk_once_that_is_committed(owner_client, item, folder):
    kept = keep(item)
    with pytest.raises(RuntimeError), transaction.atomic():
        files.remove_item_file(ItemFile.objects.get())
        assert len(lying(folder)) == 1
        raise RuntimeError
    assert StoredFile.objects.exists() and len(lying(folder)) == 1
    url = reverse("inventory:item_file_remove", args=[kept.pk])
    assert "Remove Picture of Stillwater base?" in page(owner_client, url)
    assert owner_client.post(url).url == reverse("inventory:item", args=[item.pk])
    assert not StoredFile.objects.exists() and not lying(folder)
    page(owner_client, url, status=404)


def test_an_item_has_a_page_full_of_files_and_no_more(item):
    for _ in range(files.MOST):
        keep(item, PDF, "data sheet")
    with pytest.raises(ValidationError, match="20 files are kept with Stillwater base already"):
        keep(item)


def test_a_file_comes_as_a_download_of_exactly_its_type_and_can_do_nothing(owner_client, item):
    stored = keep(item, name='Label "front"\r\nX-Trick: 1 <b>').file
    answer = owner_client.get(reverse("inventory:file", args=[stored.pk]))
    assert answer.streaming
    assert opened(read(answer)).size == (400, 300)
    assert answer["Content-Type"] == "image/jpeg"
    assert answer["Content-Disposition"] == 'attachment; filename="Label front X-Trick 1 b.jpg"'
    assert answer["Content-Length"] == str(stored.size)
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert "sandbox" in answer["Content-Security-Policy"].split("; ")
    assert answer["Cache-Control"] == "private, no-cache"
    assert answer["Cross-Origin-Resource-Policy"] == "same-origin"


def test_a_browser_that_has_the_file_is_told_so(owner_client, item):
    url = reverse("inventory:file", args=[keep(item).file_id])
    first = owner_client.get(url)
    read(first)
    again = owner_client.get(url, headers={"If-None-Match": first["ETag"]})
    assert (again.status_code, again.content) == (304, b"")


def test_a_file_takes_the_same_queries_however_many_there_are(owner_client, item):
    url = reverse("inventory:file", args=[keep(item).file_id])
    read(owner_client.get(url))
    for count in (0, 9):
        for _ in range(count):
            keep(item, PDF, "data sheet")
        with CaptureQueriesContext(connection) as taken:
            read(owner_client.get(url))
        assert len(taken) == 4  # the session, who it is, the shop, the file


def test_an_items_page_takes_the_same_queries_for_10_files_and_20(owner_client, item):
    url = reverse("inventory:item", args=[item.pk])
    for _ in range(10):
        keep(item, PDF, "data sheet")
    ten = queries_of(owner_client, url)
    for _ in range(10):
        keep(item, PDF, "data sheet")
    assert queries_of(owner_client, url) == ten


def test_a_file_that_is_gone_from_the_disk_is_a_plain_404(owner_client, item, folder):
    stored = keep(item).file
    lying(folder)[0].unlink()
    answer = owner_client.get(reverse("inventory:file", args=[stored.pk]))
    assert answer.status_code == 404
    assert "text/html" in answer["Content-Type"]
    page(owner_client, reverse("inventory:item", args=[item.pk]))
    page(owner_client, reverse("inventory:file", args=[stored.pk + 1]), status=404)


def test_a_helper_reads_files_and_no_one_reads_them_unsigned(client, helper_client, item):
    kept = keep(item)
    url = reverse("inventory:file", args=[kept.file_id])
    answer = helper_client.get(url)
    assert read(answer) and answer.status_code == 200
    assert client.get(url).url.startswith(reverse("sign_in"))
    remove = reverse("inventory:item_file_remove", args=[kept.pk])
    new = reverse("inventory:item_file_new", args=[item.pk])
    for owners in (remove, new):
        assert owners not in page(helper_client, reverse("inventory:item", args=[item.pk]))
        assert helper_client.get(owners).status_code == 403
        assert helper_client.post(owners).status_code == 403
    assert ItemFile.objects.exists()


def test_what_the_bench_makes_takes_no_data_sheet(owner_client):
    leftover = factories.make_item("leftover", "A puck")
    page(owner_client, reverse("inventory:item_file_new", args=[leftover.pk]), status=404)
    assert 'id="files"' not in page(owner_client, reverse("inventory:item", args=[leftover.pk]))
