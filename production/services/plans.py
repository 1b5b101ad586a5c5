"""Plans of an evening: made, put in another order, adopted as tonight's pour, let go.

Thinking takes seconds, so it comes before the transaction: nobody else at the bench waits for it."""

from collections.abc import Mapping, Sequence
from typing import Any

from django.db import transaction

from inventory import units
from production import planning
from production.models import Batch, Bench, Plan, PlannedBatch, Pour
from production.planning import PlanError
from production.services import pours

Wish = Mapping[str, Any]


def make(*, wishes: Sequence[Wish], plan: Plan | None = None, by) -> Plan:
    """A plan of what is wished for; of `plan` the wishes are changed. Raises PlanError.

    The same wishes sent twice make one plan."""
    outcome = planning.think(wishes)
    with transaction.atomic():
        kept = _open(plan) if plan else _twin(wishes) or Plan(by=by)
        minutes = (kept.outcome or {}).get("minutes") or Bench.ours().evening_minutes
        kept.wishes, kept.order, kept.locked = list(wishes), [], []
        kept.outcome = outcome | {"minutes": minutes}
        kept.save()
    return kept


def again(*, plan: Plan, order: Sequence[str] = (), locked: Sequence[str] = ()) -> Plan:
    """Thinks again on the shelf as it is now: in just this order of fillings, or around the locked
    ones; without either, in the best order. Raises PlanError."""
    outcome = planning.think(plan.wishes, order=order, locked=locked, best=plan.outcome)
    with transaction.atomic():
        kept = _open(plan)
        kept.order, kept.locked = list(order), list(locked)
        kept.outcome = outcome | {"minutes": kept.outcome["minutes"]}
        kept.save()
    return kept


def reorder(*, plan: Plan, order: Sequence[str]) -> Plan:
    """The fillings in just this order. Raises PlanError when they are not those of the plan: another
    page may have changed it."""
    if sorted(order) != sorted(plan.outcome["order"]):
        raise PlanError(
            "The plan was changed meanwhile: here it is as it stands now. Order it again."
        )
    return again(plan=plan, order=order)


def move(*, plan: Plan, piece: str, up: bool) -> Plan:
    """One filling a place earlier or later, everything else as it was. Raises PlanError."""
    order = list(plan.outcome["order"])
    if piece not in order:
        raise PlanError("That batch is not in the plan any more.")
    here = order.index(piece)
    there = here - 1 if up else here + 1
    if not 0 <= there < len(order):
        raise PlanError("It is already at the end of the order.")
    order[here], order[there] = order[there], order[here]
    return again(plan=plan, order=order)


def leave_out(*, plan: Plan, pieces: Sequence[str]) -> Plan:
    """Fillings are left for another evening; the rest is planned anew. Raises PlanError."""
    new = [{"leave": piece} for piece in dict.fromkeys(pieces)]
    wishes = [*plan.wishes, *(wish for wish in new if wish not in plan.wishes)]
    return plan if wishes == plan.wishes else make(wishes=wishes, plan=plan, by=plan.by)


def take_in(*, plan: Plan) -> Plan:
    """Everything that was left out comes in again. Raises PlanError."""
    return make(wishes=[w for w in plan.wishes if "leave" not in w], plan=plan, by=plan.by)


def mix_larger(*, plan: Plan, allowed: bool) -> Plan:
    """Whether a batch may be mixed larger than its shots need, to go on; all is planned anew. Raises
    PlanError."""
    wishes = [wish for wish in plan.wishes if "plain" not in wish]
    return make(wishes=wishes if allowed else [*wishes, {"plain": True}], plan=plan, by=plan.by)


@transaction.atomic
def give_minutes(*, plan: Plan, minutes: int) -> Plan:
    """The hours of this evening: they change what fits, not what it costs."""
    kept = _open(plan)
    kept.outcome = kept.outcome | {"minutes": minutes}
    kept.save()
    return kept


@transaction.atomic
def adopt(*, plan: Plan, by) -> Pour:
    """Makes the plan tonight's pour: its batches wait at the bench, in the pour that is open or begins.

    Adopted twice, it is adopted once. Raises PlanError when the open pour follows another plan."""
    kept = Plan.objects.select_for_update(of=("self",)).get(pk=plan.pk)
    if kept.pour_id:
        return kept.pour
    pour = pours.start(by=by)
    if Plan.objects.filter(pour=pour).exists():
        raise PlanError(
            "Tonight's pour already follows a plan. Finish it, or let that plan go first."
        )
    kept.pour = pour
    kept.save()
    shots = {piece["key"]: piece["shots"] for piece in kept.outcome["pieces"]}
    PlannedBatch.objects.bulk_create(
        PlannedBatch(
            plan=kept,
            position=batch["number"],
            key=batch["key"],
            version_id=batch["version"],
            pattern_id=batch["pattern"],
            base=units.to_micro(batch["base_ml"]),
            detail=batch | {"shots": shots[batch["piece"]]},
        )
        for batch in kept.outcome["batches"]
    )
    return pour


@transaction.atomic
def discard(*, plan: Plan) -> None:
    """Lets a plan go. Raises PlanError once a batch was mixed from it: it then stays with its evening."""
    kept = Plan.objects.select_for_update(of=("self",)).filter(pk=plan.pk).first()
    if kept is None:
        return
    if mixed := kept.batches.filter(batch__isnull=False).count():
        raise PlanError(
            f"{mixed} of its batches {'was' if mixed == 1 else 'were'} mixed, so the plan stays with "
            "its evening. What still waits can be taken off at the pour."
        )
    kept.delete()


@transaction.atomic
def connect(*, planned: PlannedBatch, batch: Batch) -> None:
    """The batch that waited is mixed."""
    PlannedBatch.objects.filter(pk=planned.pk).update(batch=batch)


@transaction.atomic
def take_off(*, planned: PlannedBatch) -> None:
    """A waiting batch is not mixed tonight; one that was mixed stays."""
    PlannedBatch.objects.filter(pk=planned.pk, batch=None).delete()


def _open(plan: Plan) -> Plan:
    """The plan as it is now, its row held; only a plan that is not yet poured can be changed."""
    kept = Plan.objects.select_for_update(of=("self",)).filter(pk=plan.pk).first()
    if kept is None:
        raise PlanError("This plan was let go meanwhile. Plan the evening anew.")
    if kept.pour_id:
        raise PlanError("This plan is being poured already. Change the batches that wait instead.")
    return kept


def _twin(wishes: Sequence[Wish]) -> Plan | None:
    newest = Plan.objects.select_for_update(of=("self",)).filter(pour=None).first()
    return newest if newest and newest.wishes == list(wishes) else None
