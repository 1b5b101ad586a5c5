"""An entry amended in place: what came of it is as if it had been posted right the first time."""

import pytest
from django.db import transaction
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

import inventory.audit
from inventory import queries
from inventory.models import Entry, Lot, Movement
from inventory.services import counts, ledger
from inventory.services.posting import Key, LedgerError
from production.models import Batch
from production.services import batches, leftovers, shots
from tests.factories import key, micro
from tests.production.test_evening_keeps_the_books import DEEDS, Evening

pytestmark = pytest.mark.django_db


def amend(entry: Entry, draws, makes, **event) -> Entry:
    """Posts other figures in place of an entry, as the services do."""
    with transaction.atomic():
        return ledger.post(
            Key(key(), "digest"),
            ledger.Event(entry.kind, entry.title, draws=draws, makes=makes, **event),
            by=None,
            amends=entry,
        )


def fresh(lot: Lot) -> Lot:
    return Lot.objects.select_related("item").get(pk=lot.pk)


@pytest.fixture
def shelf():
    return Evening()


def mixed(shelf, *parts, version=None) -> Batch:
    entry = batches.mix(
        key=key(),
        pour=shelf.pour,
        version=version or shelf.version,
        parts=[batches.Part(lot.item, micro(ml), lot=lot) for lot, ml in parts],
        by=None,
    )
    return entry.batch


def bottle(shelf, item) -> Lot:
    return Lot.objects.filter(item=item).first()


def shot(shelf, batch, good=8, count=2) -> Lot:
    bait = shelf.mold.cavities.get().bait
    entry = shots.shoot(
        key=key(),
        pour=shelf.pour,
        mold=shelf.mold,
        pattern=shelf.pattern,
        batches=[batch],
        count=count,
        results=[shots.Result(bait, good)],
        by=None,
    )
    return entry.movements.get(lot__form=Lot.Form.LOOSE).lot


def test_a_corrected_dose_reaches_the_baits_and_every_later_batch(shelf):
    base, dye = bottle(shelf, shelf.base), bottle(shelf, shelf.dye)
    first = mixed(shelf, (base, 100), (dye, 1))
    baits = shot(shelf, first)
    second = mixed(shelf, (fresh(first.lot), 20), (base, 30))
    later = shot(shelf, second, good=4, count=1)
    lot = fresh(first.lot)
    amend(
        first.entry,
        [ledger.Draw(fresh(base), micro(100)), ledger.Draw(fresh(dye), micro(2))],
        [ledger.Make(lot, micro(100), base=micro(100))],
    )
    assert queries.composition(fresh(first.lot))[shelf.dye.pk] == micro(2)
    # 20 of its 100 mL of base went on, and with them a fifth of 2 mL.
    assert queries.composition(fresh(second.lot))[shelf.dye.pk] == micro("0.4")
    per_base = micro(2) / micro(100)
    for lot, batch in ((baits, first), (later, second)):
        mix = queries.composition(fresh(lot))
        plastic = mix[shelf.base.pk]
        share = per_base if batch == first else micro("0.4") / micro(50)
        assert mix[shelf.dye.pk] == pytest.approx(plastic * share, abs=2)
    assert list(inventory.audit.findings()) == []


def test_both_versions_and_the_corrections_stay_on_the_ledger(shelf):
    base, dye = bottle(shelf, shelf.base), bottle(shelf, shelf.dye)
    first = mixed(shelf, (base, 100), (dye, 1))
    shot(shelf, first)
    new = amend(
        first.entry,
        [ledger.Draw(fresh(base), micro(100)), ledger.Draw(fresh(dye), micro(3))],
        [ledger.Make(fresh(first.lot), micro(100), base=micro(100))],
    )
    old = Entry.objects.get(pk=first.entry_id)
    assert (new.amends, old.amended_by, old.reversed_by.kind) == (old, new, "reversal")
    corrections = Movement.objects.filter(entry__kind="revaluation")
    assert corrections and not corrections.exclude(quantity=0).exists()
    assert all(line.revalues for line in corrections)


def test_a_dearer_bottle_makes_every_bait_of_it_dearer(shelf):
    base = bottle(shelf, shelf.base)
    first = mixed(shelf, (base, 90))
    baits = shot(shelf, first)
    before = fresh(baits).cost
    receipt = base.movements.get(role="made").entry
    amend(receipt, [], [ledger.Make(fresh(base), base.made, cost=2 * micro("31.07"))])
    assert fresh(baits).cost == pytest.approx(2 * before, abs=2)
    assert fresh(base).cost + fresh(first.lot).cost + sum(
        Lot.objects.filter(form__in=["loose", "trim"]).values_list("cost", flat=True)
    ) == 2 * micro("31.07")
    assert list(inventory.audit.findings()) == []


def test_less_poured_than_was_used_is_found_stock_to_be_counted(shelf):
    base = bottle(shelf, shelf.base)
    first = mixed(shelf, (base, 100))
    mixed(shelf, (fresh(first.lot), 80))
    amend(
        first.entry,
        [ledger.Draw(fresh(base), micro(60))],
        [ledger.Make(fresh(first.lot), micro(60), base=micro(60))],
    )
    lot = fresh(first.lot)
    assert (lot.on_hand, lot.made, lot.count_me) == (0, micro(60), True)
    assert list(inventory.audit.findings()) == []


def test_what_was_weighed_in_the_cup_stays_what_was_weighed(shelf):
    base = bottle(shelf, shelf.base)
    first = mixed(shelf, (base, 200))
    shot(shelf, first)
    leftovers.settle(key=key(), batch=first, measured=micro(70), then="keep", by=None)
    entry = first.entry
    for poured in (220, 190, 300):
        entry = amend(
            entry,
            [ledger.Draw(fresh(base), micro(poured))],
            [ledger.Make(fresh(first.lot), micro(poured), base=micro(poured))],
        )
        assert fresh(first.lot).on_hand == micro(70)
        assert list(inventory.audit.findings()) == []


def test_melts_are_counted_again(shelf):
    base = bottle(shelf, shelf.base)
    old = mixed(shelf, (base, 50))
    first = mixed(shelf, (base, 100))
    second = mixed(shelf, (fresh(first.lot), 40), (base, 10))
    baits = shot(shelf, second, good=4, count=1)
    assert fresh(baits).melts == 2
    amended = amend(
        first.entry,
        [ledger.Draw(fresh(base), micro(60)), ledger.Draw(fresh(old.lot), micro(40))],
        [ledger.Make(fresh(first.lot), micro(100), base=micro(100))],
    )
    assert [fresh(lot).melts for lot in (first.lot, second.lot, baits)] == [2, 3, 3]
    amend(
        amended,
        [ledger.Draw(fresh(base), micro(100))],
        [ledger.Make(fresh(first.lot), micro(100), base=micro(100))],
    )
    assert [fresh(lot).melts for lot in (first.lot, second.lot, baits)] == [1, 2, 2]
    assert list(inventory.audit.findings()) == []


def test_a_batch_can_not_be_made_of_what_was_made_from_it(shelf):
    base = bottle(shelf, shelf.base)
    first = mixed(shelf, (base, 100))
    second = mixed(shelf, (fresh(first.lot), 40))
    with pytest.raises(LedgerError, match="was made from this one"):
        amend(
            first.entry,
            [ledger.Draw(fresh(second.lot), micro(10))],
            [ledger.Make(fresh(first.lot), micro(10), base=micro(10))],
        )
    assert Entry.objects.filter(amends__isnull=False).count() == 0


def test_amended_and_then_undone_it_never_happened(shelf):
    base, flake = bottle(shelf, shelf.base), bottle(shelf, shelf.flake)
    start = [(fresh(lot).on_hand, fresh(lot).cost) for lot in (base, flake)]
    first = mixed(shelf, (base, 100))
    second = mixed(shelf, (fresh(first.lot), 30))
    # The flake's cost is unknown: so is that of everything it went into, until it is undone.
    new = amend(
        first.entry,
        [ledger.Draw(fresh(base), micro(100)), ledger.Draw(fresh(flake), micro(1))],
        [ledger.Make(fresh(first.lot), micro(100), base=micro(100))],
    )
    assert fresh(second.lot).cost is None
    counts.undo(key=key(), entry=second.entry, by=None)
    counts.undo(key=key(), entry=new, by=None)
    assert [(fresh(lot).on_hand, fresh(lot).cost) for lot in (base, flake)] == start
    assert list(inventory.audit.findings()) == []


def test_an_entry_that_happened_before_the_last_count_asks_for_a_new_one(shelf):
    base = bottle(shelf, shelf.base)
    before = timezone.now()
    counts.count(key=key(), lot=base, counted=micro(850), by=None)
    assert not fresh(base).count_me
    batches.mix(
        key=key(),
        pour=shelf.pour,
        version=None,
        parts=[batches.Part(base.item, micro(10), lot=base)],
        happened_at=before,
        by=None,
    )
    assert fresh(base).count_me


MORE = [*DEEDS, "amend_mix", "amend_mix", "amend_shots", "amend_receipt", "undo"]
AMENDED = st.lists(st.tuples(st.sampled_from(MORE), st.integers(0, 40)), min_size=5, max_size=14)


class Amended(Evening):
    """The same evening with second thoughts."""

    def _standing(self, kind: str, n: int) -> Entry | None:
        found = queries.standing().filter(kind=kind, movements__role="made").distinct()
        rows = list(found.order_by("pk"))
        return rows[n % len(rows)] if rows else None

    def _again(self, entry: Entry, draws, makes, **event) -> None:
        try:
            new = amend(entry, draws, makes, **event)
        except LedgerError as refusal:
            assert "was made from this one" in str(refusal) or "short" in str(refusal)
        else:
            Batch.objects.filter(entry=entry).update(entry=new)

    def amend_mix(self, n: int) -> None:
        if entry := self._standing("batch", n):
            lot = fresh(entry.movements.get(role="made", revalues=None).lot)
            lots = Lot.objects.filter(item__in=[self.base, self.dye, self.flake]).order_by("pk")
            draws = [ledger.Draw(fresh(lots[0]), micro(2 + n), bench=True)]
            draws += [
                ledger.Draw(fresh(lots[(n + i) % len(lots)]), micro(1 + n / 3), bench=True)
                for i in range(1 + n % 3)
            ]
            leftover = Lot.objects.filter(item__kind="leftover").order_by("pk")
            if n % 4 == 0:
                # Some of it: nothing drawn of itself would tie a batch to its own lot.
                draws.append(ledger.Draw(fresh(leftover[n % len(leftover)]), n + 1, bench=True))
            base = sum(d.quantity for d in draws if d.lot.item.kind in ("plastisol", "leftover"))
            self._again(entry, draws, [ledger.Make(lot, base, base=base)])

    def amend_shots(self, n: int) -> None:
        """The same shots, but with fewer baits or more of them, and a little more plastic."""
        if entry := self._standing("shots", n):
            rows = list(entry.movements.filter(revalues=None).exclude(role="found"))
            draws = [
                ledger.Draw(fresh(row.lot), -row.quantity + n * 1000, bench=True)
                for row in rows
                if row.role == "drawn"
            ]
            made = [row for row in rows if row.role == "made"]
            if not made or not draws:
                return
            spare = len(draws) * n * 1000
            makes = [
                ledger.Make(
                    fresh(row.lot),
                    max(1, row.quantity + (n % 3 - 1) * 1_000_000)
                    if row.lot.form == "loose"
                    else row.base + (spare if i == 0 else 0),
                    base=row.base + (spare if i == 0 else 0),
                    bears_waste=row.lot.form != "trim",
                )
                for i, row in enumerate(made)
            ]
            self._again(entry, draws, makes, wasted=entry.wasted)

    def amend_receipt(self, n: int) -> None:
        if entry := self._standing("receipt", n):
            made = entry.movements.get(role="made", revalues=None)
            cost = None if n % 5 == 0 else micro(n / 3)
            self._again(entry, [], [ledger.Make(fresh(made.lot), micro(1 + 9 * n), cost=cost)])

    def undo(self, n: int) -> None:
        entries = list(queries.standing().order_by("-pk"))
        try:
            counts.undo(key=key(), entry=entries[n % min(6, len(entries))], by=None)
        except LedgerError as refusal:
            assert str(refusal)


class TestAmendedEvening(TestCase):
    @settings(max_examples=20, deadline=None, suppress_health_check=list(HealthCheck))
    @given(AMENDED)
    def test_whatever_is_amended_the_books_are_right(self, deeds):
        evening = Amended()
        for deed, number in deeds:
            getattr(evening, deed)(number)
            if deed.startswith("amend") or deed == "undo":
                assert list(inventory.audit.findings()) == []
        assert list(inventory.audit.findings()) == []
