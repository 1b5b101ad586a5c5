"""`manage.py audit`: replays the ledger and checks every record against it."""

from django.core.management.base import BaseCommand, CommandError

import inventory.audit
import production.audit
import shop.audit
from inventory.models import Entry, Lot


class Command(BaseCommand):
    help = "Replay the ledger and prove on hand, cost, composition, genealogy and mass balance."

    def handle(self, *args, **options) -> None:
        found = [
            *inventory.audit.findings(),
            *production.audit.findings(),
            *shop.audit.findings(),
        ]
        for finding in found:
            self.stdout.write(self.style.ERROR(finding))
        read = f"{Entry.objects.count()} entries, {Lot.objects.count()} lots"
        if found:
            raise CommandError(f"{len(found)} findings in {read}.")
        self.stdout.write(f"Green: {read} replayed; every figure follows from the ledger.")
