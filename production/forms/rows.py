"""Lists in a form: a fixed number of lines, of which the empty ones are ignored. No script needed."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django import forms
from django.forms.utils import ErrorDict

from inventory import forms_base
from production.services.refusals import Refusal


class Offer:
    """Choices read once for all lines: things grouped under headings, and found again by key."""

    def __init__(self, groups: Mapping[str, Iterable[Any]], *, empty: str = "Choose…") -> None:
        self.things: dict[str, Any] = {}
        self.choices: list[tuple[str, Any]] = [("", empty)]
        for heading, things in groups.items():
            pairs = [(str(thing.pk), str(thing)) for thing in things]
            self.things.update((str(thing.pk), thing) for thing in things)
            if heading and pairs:
                self.choices.append((heading[:1].upper() + heading[1:], pairs))
            else:
                self.choices += pairs


def by_kind(items: Iterable[Any]) -> dict[str, list[Any]]:
    """Groups items under their kind, in the order given."""
    groups: dict[str, list[Any]] = {}
    for item in items:
        groups.setdefault(item.get_kind_display(), []).append(item)
    return groups


class PickField(forms.TypedChoiceField):
    """One of the things offered; the form's __init__ calls `offer`."""

    def __init__(self, **kwargs) -> None:
        kwargs.setdefault("error_messages", {"invalid_choice": "Choose one from the list."})
        super().__init__(empty_value=None, **kwargs)

    def offer(self, offer: Offer) -> None:
        self.choices = offer.choices
        self.coerce = offer.things.__getitem__


class RowForm(forms_base.PlainForm):
    """One line. A line in which nothing was typed is valid and has no cleaned data."""

    use_required_attribute = False

    def __init__(self, *args, **kwargs) -> None:
        kwargs.setdefault("use_required_attribute", False)
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            field.error_messages["required"] = "Fill this in, or leave the whole line empty."

    @property
    def typed(self) -> bool:
        return any(str(bound.data or "").strip() for bound in self)

    def full_clean(self) -> None:
        if self.is_bound and not self.typed:
            self._errors, self.cleaned_data = ErrorDict(), {}
            return
        super().full_clean()


class Rows:
    """`count` lines of a form class, with names such as dose-0-item."""

    def __init__(
        self,
        form_class: type[RowForm],
        data: Mapping[str, Any] | None,
        *,
        prefix: str,
        count: int,
        initial: Sequence[dict[str, Any]] = (),
        shown: int | None = None,
        **kwargs,
    ) -> None:
        # A list longer than the page offers, made elsewhere, is never cut.
        count = max(count, len(initial))
        starts = [*initial, *[None] * (count - len(initial))]
        self.forms = [
            form_class(data, prefix=f"{prefix}-{index}", initial=start, **kwargs)
            for index, start in enumerate(starts)
        ]
        self.shown = shown or count

    def __iter__(self):
        return iter(self.forms)

    def is_valid(self) -> bool:
        # Every line is checked, so that all that is wrong shows at once.
        valid = [form.is_valid() for form in self.forms]
        return all(valid)

    @property
    def filled(self) -> list[RowForm]:
        return [form for form in self.forms if form.cleaned_data]

    @property
    def has_errors(self) -> bool:
        return any(form.errors for form in self.forms)

    @property
    def first(self) -> list[RowForm]:
        return self.forms[: self.shown]

    @property
    def more(self) -> list[RowForm]:
        return self.forms[self.shown :]

    @property
    def more_is_used(self) -> bool:
        return any(
            form.errors or form.initial or (form.is_bound and form.typed) for form in self.more
        )


def show_refusal(error: Refusal, form: forms.Form, rows: Rows | None = None) -> None:
    """Puts a service's refusal at the line and field that it names, or above the form."""
    place = form
    if error.row is not None and rows is not None:
        place = rows.filled[error.row]
    place.add_error(error.field if error.field in place.fields else None, str(error))
