"""Whatever is received, counted, thrown away, thinned and undone, early or late, the books are right."""

from datetime import timedelta

import pytest
from django.db.models import Sum
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from inventory import audit, queries
from inventory.models import Entry, Lot, Movement
from inventory.services import counts, holding, thinning
from inventory.services.posting import LedgerError
from tests import factories
from tests.factories import key, micro


class Shelf:
    """A small shelf and what a person does to it, each deed by a number that chooses how."""

    def __init__(self) -> None:
        self.dye = factories.make_item("colorant", "Plum dye")
        self.oil = factories.make_item("additive", "Worm oil")
        self.flake = factories.make_flake()
        self.opened = timezone.now() - timedelta(days=2)
        for item, quantity, cost in ((self.dye, 30, "9.99"), (self.oil, 90, "4.10")):
            factories.make_lot(item, quantity, cost, on=self.opened.date())
        factories.make_lot(self.flake, 20, None, on=self.opened.date())

    def moment(self, n: int):
        """Now, or some hours ago: things are often entered late."""
        return timezone.now() - timedelta(hours=n % 7) if n % 3 else None

    def a_lot(self, n: int) -> Lot:
        lots = Lot.objects.select_related("item").order_by("pk")
        return lots[n % len(lots)]

    def receive(self, n: int) -> None:
        factories.make_lot([self.dye, self.flake, self.oil][n % 3], 1 + n, n / 7 if n % 5 else None)

    def count(self, n: int) -> None:
        counts.count(
            key=key(), lot=self.a_lot(n), counted=micro(n) // 3, counted_at=self.moment(n), by=None
        )

    def count_round(self, n: int) -> None:
        lots = list(Lot.objects.order_by("pk"))[:: 1 + n % 2]
        seen = [
            counts.Seen(lot, None if (n + i) % 3 else micro(n + i) // 7, "found")
            for i, lot in enumerate(lots)
        ]
        counts.count_round(key=key(), seen=seen, counted_at=self.moment(n), by=None)

    def waste(self, n: int) -> None:
        lot = self.a_lot(n)
        if lot.on_hand:
            counts.waste(
                key=key(),
                lot=lot,
                quantity=1 + (lot.on_hand - 1) * (n % 4) // 3,
                reason="spilled",
                happened_at=self.moment(n),
                by=None,
            )

    def thin(self, n: int) -> None:
        lot = self.a_lot(n)
        if lot.item == self.dye and lot.on_hand:
            thinning.thin(
                key=key(),
                lot=lot,
                quantity=1 + (lot.on_hand - 1) * (n % 4) // 3,
                oil_lot=Lot.objects.filter(item=self.oil).first(),
                oil_quantity=1 + n * 777_777,
                happened_at=self.moment(n),
                by=None,
            )

    def hold(self, n: int) -> None:
        item = [self.dye, self.flake, self.oil][n % 3]
        holding.reserve(f"trial:{n % 4}", item, micro(1 + n % 17))

    def let_go(self, n: int) -> None:
        holding.release(f"trial:{n % 4}", quantity=None if n % 2 else micro(3))

    def undo(self, n: int) -> None:
        entries = Entry.objects.order_by("pk")
        counts.undo(key=key(), entry=entries[n % len(entries)], by=None)


DEEDS = ["receive", "count", "count_round", "waste", "waste", "thin", "thin", "undo", "undo"]
DEEDS += ["hold", "hold", "let_go"]


@pytest.mark.filterwarnings("ignore::hypothesis.errors.HypothesisWarning")
class TestShelf(TestCase):
    @settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
    @given(st.lists(st.tuples(st.sampled_from(DEEDS), st.integers(0, 60)), min_size=3, max_size=12))
    def test_on_hand_and_cost_stay_the_sums_of_their_lines(self, deeds):
        shelf = Shelf()
        for deed, number in deeds:
            before = Entry.objects.count(), Movement.objects.count()
            try:
                getattr(shelf, deed)(number)
            except LedgerError as refusal:
                assert str(refusal)
                assert (Entry.objects.count(), Movement.objects.count()) == before
        for lot in Lot.objects.all():
            lines = lot.movements.aggregate(on_hand=Sum("quantity"), cost=Sum("cost"))
            assert lot.on_hand == (lines["on_hand"] or 0)
            assert lot.cost is None or lot.cost == (lines["cost"] or 0)
        assert list(audit.findings()) == []

    @settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck))
    @given(
        st.lists(st.tuples(st.sampled_from(["waste", "undo"]), st.integers(0, 60)), max_size=6),
        st.integers(0, 40),
        st.integers(0, 6),
    )
    def test_right_after_a_count_the_books_of_that_moment_are_what_was_seen(
        self, deeds, seen, hours
    ):
        shelf = Shelf()
        for deed, number in deeds:
            try:
                getattr(shelf, deed)(number)
            except LedgerError as refusal:
                assert str(refusal)
        lot, when = shelf.a_lot(seen), timezone.now() - timedelta(hours=hours)
        try:
            counts.count(key=key(), lot=lot, counted=micro(seen), counted_at=when, by=None)
        except LedgerError as refusal:
            assert "more than you counted" in str(refusal)
            return
        lot.refresh_from_db()
        assert queries.on_hand_at(lot, when) == micro(seen)
        assert not lot.count_me
