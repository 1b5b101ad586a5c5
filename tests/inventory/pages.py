"""What the tests of the shelf's pages share."""

from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext


def page(client: Client, url: str, status: int = 200, **data) -> str:
    """The text of a page, once its status is as expected."""
    response = client.get(url, data)
    assert response.status_code == status
    return response.content.decode()


def queries_of(client: Client, url: str) -> int:
    """How many queries a page takes, the second time it is opened."""
    client.get(url)
    with CaptureQueriesContext(connection) as taken:
        client.get(url)
    return len(taken)
