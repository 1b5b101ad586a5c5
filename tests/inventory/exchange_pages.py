"""What the tests of sheets share: a file sent, looked at and confirmed, as a person would."""

import io

from django.core.files.uploadedfile import SimpleUploadedFile

from inventory.exchange import writing

FIELDS = ("key", "sheet", "seen")


def upload(client, url, data, name="sheet.csv"):
    """The answer to choosing a file."""
    data = data.encode() if isinstance(data, str) else data
    return client.post(url, {"file": SimpleUploadedFile(name, data)})


def answer(client, url, asked, **answers):
    """The answer to a page that asked how the file is written."""
    return client.post(url, {"sheet": asked.context["sheet"], "answered": "1", **answers})


def confirmation(preview):
    """What the form of a preview sends."""
    said = preview.context["said"]
    return {
        "key": preview.context["key"],
        "sheet": preview.context["sheet"],
        "seen": preview.context["review"].digest,
        "decimal": said.decimal,
        "dates": said.dates,
        "book": "1",
    }


def load(client, url, data, name="sheet.csv"):
    """The answer to choosing a file and confirming what it does."""
    preview = upload(client, url, data, name)
    assert preview.status_code == 200, problems(preview)
    return client.post(url, confirmation(preview))


def problems(response):
    """What a page says is wrong with the file."""
    review, form = response.context.get("review"), response.context.get("form")
    found = [f"{t.line}, {t.column}: {t.text}" for t in review.troubles] if review else []
    return found + [
        str(error) for errors in (form.errors.values() if form else []) for error in errors
    ]


def as_csv(sheet):
    out = io.BytesIO()
    writing.write_csv(sheet, out)
    return out.getvalue()


def as_xlsx(*sheets):
    out = io.BytesIO()
    writing.write_xlsx(sheets, out)
    return out.getvalue()
