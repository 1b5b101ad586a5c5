"""Ten years of the demo shop: how long they take to tell and to prove, and how much memory. Prints what it
saw; holds the counts alone, as time is the machine's business."""

import resource
import time
from io import StringIO

import pytest
from django.core.management import call_command

from inventory.models import Content, Entry, Lot, Movement
from production.models import Batch, Pour
from shop.demo.years import story
from shop.models import Order, User

pytestmark = [pytest.mark.bench, pytest.mark.django_db]


def _megabytes() -> int:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024


def test_ten_years_are_told_and_proven(capsys):
    owner = User.objects.create_user(username="wren", role="owner")
    begun = time.perf_counter(), time.process_time()
    story.load(owner=owner, years=10)
    told = time.perf_counter() - begun[0], time.process_time() - begun[1], _megabytes()
    begun = time.perf_counter(), time.process_time()
    said = StringIO()
    call_command("audit", stdout=said)
    proven = time.perf_counter() - begun[0], time.process_time() - begun[1], _megabytes()
    counts = {
        m.__name__: m.objects.count() for m in (Pour, Batch, Movement, Entry, Content, Lot, Order)
    }
    with capsys.disabled():
        print(f"\n{counts}")
        for what, (wall, cpu, most) in {"told": told, "proven": proven}.items():
            print(f"{what} in {wall:.0f} s ({cpu:.0f} s of one core), at most {most} MB so far")
    assert said.getvalue().startswith("Green")
    assert 1_350 < counts["Pour"] < 1_850
    assert 8_000 < counts["Batch"] < 11_000
    assert counts["Movement"] > 180_000
