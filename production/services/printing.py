"""Writing down what labels were printed, and keeping sheets, printers and templates."""

from collections.abc import Iterable

from django.db import transaction

from inventory.models import Lot
from production.models import LabelTemplate, PrintJob, PrintJobLine
from production.printing import Job


@transaction.atomic
def note(job: Job, lines: Iterable[tuple[Lot | None, str, int]], *, by, again=None) -> PrintJob:
    """A job as it goes to print: each line a lot (None: none), what it is, and how many labels."""
    written = PrintJob.objects.create(
        by=by,
        kind=job.kind,
        stock=job.stock.key,
        start=job.start,
        template=job.template,
        printer=job.printer,
        again=again,
    )
    PrintJobLine.objects.bulk_create(
        PrintJobLine(job=written, lot=lot, what=what, count=count) for lot, what, count in lines
    )
    return written


@transaction.atomic
def keep_template(template: LabelTemplate) -> LabelTemplate:
    """Saves a template; the usual one of its kind is the only one."""
    if template.usual:
        others = LabelTemplate.objects.filter(kind=template.kind, usual=True)
        others.exclude(pk=template.pk).update(usual=False)
    template.full_clean()
    template.save()
    return template
