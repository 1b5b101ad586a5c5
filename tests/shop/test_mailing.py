"""The mailing label of an order: from whom, to whom, noted like every print."""

import io

import pytest
from django.urls import reverse
from pypdf import PdfReader

from production.models import PrintJob
from shop.models import Customer, Order
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def order(shop):
    shop.address = "3 Boathouse Lane\nElm Lake, MN 55999"
    shop.save()
    customer = Customer.objects.create(
        name="Hollis Marsh", address="12 Reed Street\nOtter Falls, WI 54999"
    )
    return Order.objects.create(customer=customer, ordered_on=factories.timezone.localdate())


def send(client, order, **changes):
    url = reverse("order_mailing", args=[order.pk])
    form = client.get(url).context["form"]
    data = {name: form[name].value() for name in ("address", "stock", "start")}
    return client.post(url, data | changes)


def test_the_label_says_from_whom_and_to_whom(helper_client, order):
    answer = send(helper_client, order)
    assert answer["Content-Type"] == "application/pdf"
    text = " ".join(PdfReader(io.BytesIO(answer.content)).pages[0].extract_text().split())
    assert "Lantern Cove Baits, 3 Boathouse Lane, Elm Lake, MN 55999" in text
    assert "Hollis Marsh 12 Reed Street Otter Falls, WI 54999" in text
    line = PrintJob.objects.get(kind="mailing").lines.get()
    assert line.what == f"Order {order.pk} to Hollis Marsh"


def test_an_address_that_does_not_fit_is_said_at_its_field_and_kept(helper_client, order):
    address = "\n".join(f"Line {n} of a very long address" for n in range(1, 13))
    answer = send(helper_client, order, address=address, stock="letter-3x10")
    assert answer.status_code == 422
    assert "need more than" in answer.context["form"]["address"].errors[0]
    assert answer.context["form"]["address"].value() == address
    assert not PrintJob.objects.exists()


def test_a_letter_that_cannot_be_printed_is_named(helper_client, order):
    answer = send(helper_client, order, address="Hollis 霧\n12 Reed Street")
    assert answer.status_code == 422
    assert "霧" in answer.context["form"]["address"].errors[0]


def test_a_customer_without_an_address_is_asked_for_one(owner_client, order):
    order.customer.address = ""
    order.customer.save()
    page = owner_client.get(reverse("order_mailing", args=[order.pk])).content.decode()
    assert "No address is written down yet" in page
