"""The live count: one press, one posting. Without scripts each press is a page; with them a fragment."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from inventory.models import Entry
from inventory.services.posting import KeyReused, LedgerError
from production import cup_left, pour_record, tally_board
from production.forms import tally as forms
from production.models import Batch, Pour, Sorting
from production.services import shots, sorting
from production.services.evenings import EveningClosed
from production.views import evenings, telling
from production.views.pours import STOP_POLLING

UNREADY = 422
_FATE = {
    forms.REJECT: Sorting.Fate.REJECT,
    forms.UNREJECT: Sorting.Fate.REJECT,
    forms.SECOND: Sorting.Fate.SECOND,
    forms.UNSECOND: Sorting.Fate.SECOND,
}


@require_http_methods(["GET", "HEAD", "POST"])
def tally(request: HttpRequest, pk: int, batch: int) -> HttpResponse:
    pour = get_object_or_404(Pour, pk=pk)
    evening = pour_record.batches(pour)
    own = next((found for found in evening if found.pk == batch), None)
    if own is None:
        own = get_object_or_404(Batch, pk=batch, pour=pour, entry__reversed_by=None)
    if answer := evenings.turned_back(request, pour, "production:batch", pk, batch):
        return _left(answer) if request.htmx else answer
    plan = forms.TallyPlanForm(request.GET or None, batch=own, batches=evening)
    if not plan.is_valid():
        context = {"pour": pour, "batch": own, "form": plan}
        status = UNREADY if plan.errors else 200
        return render(request, "production/tally_plan.html", context, status=status)
    count = _Count(request, pour, plan)
    return count.press() if request.method == "POST" else count.shown()


def _left(answer: HttpResponse) -> HttpResponse:
    """The page looked again by itself: it stops asking and goes where a reader would be sent."""
    return HttpResponse(status=STOP_POLLING, headers={"HX-Redirect": answer["Location"]})


class _Count:
    """One request to the page: what is counted, and what was said about it."""

    def __init__(self, request: HttpRequest, pour: Pour, plan: forms.TallyPlanForm) -> None:
        self.request, self.pour, self.plan = request, pour, plan
        self.mold, self.pattern = plan.cleaned_data["mold"], plan.cleaned_data["pattern"]
        self.batches = plan.chosen_batches()
        self.shares = plan.shares()

    def press(self) -> HttpResponse:
        form = forms.PressForm(self.request.POST, mold=self.mold)
        if not form.is_valid() or not self._sure(form):
            return self.shown(form=form, status=UNREADY)
        try:
            entry = self._post(form.cleaned_data)
        except KeyReused:
            entry = None  # the same press again: it is counted
        except LedgerError as refusal:
            form.add_error(None, str(refusal))
            return self.shown(form=form, status=UNREADY)
        said = telling.surprises(entry) if entry else []
        if self.request.htmx:
            return self.shown(said=said)
        for line in said:
            messages.warning(self.request, line)
        answer = redirect(self.request.get_full_path())
        answer.status_code = 303
        return answer

    def _sure(self, form: forms.PressForm) -> bool:
        """Asks before a shot that the cup can't fill; the answer leaves a mark."""
        left = cup_left.left_ml(self.batches, self.shares)
        if form.cleaned_data["do"] != forms.SHOT or not cup_left.short_of(self.mold, left):
            return True
        text = (
            f"By the books {left:.0f} mL are left, and a shot of {self.mold} takes "
            f"{self.mold.shot_ml.normalize():f} mL."
        )
        form.cleaned_data["look_at"] = text
        return form.question(f"{text} Yes, really?")

    def _post(self, pressed: dict) -> Entry | None:
        key, do, bait = pressed["key"], pressed["do"], pressed["bait"]
        if Entry.objects.filter(key=key).exists():
            return None
        if self.pour.closed_at:
            raise EveningClosed(self.pour)
        of_these = tally_board.counted(self.pour, self.mold, self.pattern, self.batches)
        by = self.request.user
        if do == forms.SHOT:
            doubted = [pressed.get("look_at", ""), "" if of_these.exists() else self.plan.doubt]
            return self._shoot(key, " ".join(filter(None, doubted)))
        if do == forms.UNSHOT:
            return shots.take_back(key=key, shots=_single(of_these), by=by)
        fate = _FATE[do]
        if do in (forms.REJECT, forms.SECOND):
            found = sorting.latest_with_good(of_these, bait)
            if found is None:
                raise LedgerError(f"No good {bait} is left to sort out. Count the shot first.")
            reason = pressed["reason"] if do == forms.REJECT else ""
            return sorting.sort_out(
                key=key, shots=found, bait=bait, fate=fate, reason=reason, by=by
            )
        last = sorting.latest(of_these, bait, fate)
        if last is None:
            raise LedgerError(
                f"No {fate} {bait} was sorted out here. What was counted together with its shots "
                "is mended on the evening's page."
            )
        return sorting.put_back(key=key, sorting=last, by=by)

    def _shoot(self, key: str, look_at: str) -> Entry:
        cavities = self.mold.cavities.select_related("bait")
        return shots.shoot(
            key=key,
            pour=self.pour,
            mold=self.mold,
            pattern=self.pattern,
            batches=self.batches,
            count=1,
            results=[shots.Result(cavity.bait, cavity.count) for cavity in cavities],
            shares=self.shares,
            injector=self.plan.injector,
            look_at=look_at,
            by=self.request.user,
        )

    def shown(
        self, *, form: forms.PressForm | None = None, said: list[str] | None = None, status=200
    ) -> HttpResponse:
        fresh = Batch.objects.select_related("lot__item", "version__recipe", "cup").in_bulk(
            [batch.pk for batch in self.batches]
        )
        batches = [fresh[batch.pk] for batch in self.batches]
        context = {
            "pour": self.pour,
            "mold": self.mold,
            "pattern": self.pattern,
            "injector": self.plan.injector,
            "batches": batches,
            "own": self.plan.batch,
            "board": tally_board.board(self.pour, self.mold, self.pattern, batches, self.shares),
            "form": form,
            "said": said,
            "pressed": self.request.method == "POST",
            "address": self.request.get_full_path(),
            "fragment": bool(self.request.htmx),
        }
        template = "_tally_answer.html" if self.request.htmx else "tally.html"
        return render(self.request, f"production/{template}", context, status=status)


def _single(of_these) -> shots.Shots:
    """The last shot of these, if it was counted alone."""
    last = of_these.select_related("entry").order_by("-pk").first()
    if last is None:
        raise LedgerError("No shot was counted here yet.")
    if last.count > 1:
        raise LedgerError(
            f"The last {last.count} shots were logged together. Undo them on the evening's page."
        )
    return last
