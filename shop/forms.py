"""The forms of the front of house."""

import zoneinfo

from django import forms
from django.contrib.auth import password_validation
from django.core.exceptions import ValidationError

from inventory import amounts, units
from inventory.forms_base import AmountField, NumberField
from inventory.forms_files import PictureForm
from inventory.models import Place
from shop.models import Customer, Shop, User


def time_zone_choices() -> list[tuple[str, str]]:
    """Every zone that names a place, by name, after an empty first line: a zone is never guessed."""
    names = sorted(name for name in zoneinfo.available_timezones() if "/" in name)
    named = [
        name for name in names if not name.startswith(("Etc/", "SystemV/", "posix/", "right/"))
    ]
    return [("", "Choose…"), ("UTC", "UTC"), *((n, n.replace("_", " ")) for n in named)]


class NewPasswordMixin:
    """Checks a chosen password against the house rules, as that person's."""

    def check_password(self, password: str, person: User) -> None:
        try:
            password_validation.validate_password(password, person)
        except ValidationError as error:
            self.add_error("password", error)


class ShopForm(forms.ModelForm):
    time_zone = forms.ChoiceField(
        choices=time_zone_choices, help_text="Evenings and business dates follow it."
    )

    class Meta:
        model = Shop
        fields = ["name", "town", "units", "currency", "time_zone"]
        labels = {"name": "Shop name", "units": "Units to show"}
        help_texts = {"currency": "Three letters, as in USD or EUR."}

    def clean_currency(self) -> str:
        return self.cleaned_data["currency"].upper()


class IdentityForm(ShopForm):
    """The shop's facts with what its papers say of it."""

    class Meta(ShopForm.Meta):
        fields = [*ShopForm.Meta.fields, "address", "email", "phone", "invoice_note"]
        labels = ShopForm.Meta.labels | {"invoice_note": "Below every invoice", "email": "E-mail"}
        widgets = {
            "address": forms.Textarea(attrs={"rows": 3}),
            "invoice_note": forms.Textarea(attrs={"rows": 3}),
        }
        help_texts = ShopForm.Meta.help_texts | {
            "address": "As it stands on invoices and packing slips, a line for each part.",
            "invoice_note": "When and how to pay, say: Payable within 14 days, by check or transfer.",
        }


class LogoForm(PictureForm):
    """One picture; what it shows is known."""

    name = None


class AccountForm(NewPasswordMixin, forms.Form):
    """The owner's own account."""

    username = forms.CharField(
        max_length=150,
        validators=[User.username_validator],
        widget=forms.TextInput(attrs={"autocomplete": "username", "autocapitalize": "none"}),
    )
    password = forms.CharField(
        strip=False,
        max_length=4096,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text="Ten characters or more; three or four unrelated words are good.",
    )
    password_again = forms.CharField(
        strip=False,
        max_length=4096,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )

    def clean(self) -> dict:
        typed = super().clean()
        password = typed.get("password")
        if password and "password_again" in typed and password != typed["password_again"]:
            self.add_error("password_again", "The two passwords differ. Type both again.")
        if password:
            self.check_password(password, User(username=typed.get("username", "")))
        return typed


class OpeningForm(ShopForm):
    """The shop's facts with its cups, on the first day."""

    cups = NumberField(
        label="How many pouring cups",
        whole=True,
        at_most=50,
        help_text="Heat-proof cups. They get numbers from 1; mark yours the same.",
    )
    cup_ml = AmountField(
        label="Largest fill of a cup",
        help_text="In any volume: 400 mL, 1½ US cup, 14 fl oz. Leave room to stir. "
        "Change it cup by cup later.",
    )

    field_order = ["name", "town", "units", "currency", "time_zone", "cups", "cup_ml"]

    def clean_cup_ml(self):
        amount: amounts.Amount = self.cleaned_data["cup_ml"]
        try:
            volume = units.convert(amount.value, amount.unit or "mL", "mL")
        except units.UnitsError as error:
            raise ValidationError(str(error)) from error
        if not 1 <= volume <= 20_000:
            raise ValidationError("A cup holds between 1 mL and 20 L.")
        return round(volume, 3)


class NewPersonForm(NewPasswordMixin, forms.Form):
    username = forms.CharField(
        max_length=150,
        validators=[User.username_validator],
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "none"}),
    )
    role = forms.ChoiceField(
        choices=User.Role,
        initial=User.Role.HELPER,
        help_text="A helper pours, counts, bags and packs, and sees no costs. An owner may do anything.",
    )
    password = forms.CharField(
        strip=False,
        max_length=4096,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text="Ten characters or more. Tell it to them in person.",
    )

    def clean_username(self) -> str:
        username = User.normalize_username(self.cleaned_data["username"])
        if User.objects.filter(username__iexact=username).exists():
            raise ValidationError("Someone has this name already.")
        return username

    def clean(self) -> dict:
        typed = super().clean()
        if typed.get("password"):
            self.check_password(typed["password"], User(username=typed.get("username", "")))
        return typed


class PersonForm(NewPasswordMixin, forms.Form):
    role = forms.ChoiceField(choices=User.Role)
    active = forms.BooleanField(
        required=False,
        label="May sign in",
        help_text="Without it the account is closed; what they posted stays.",
    )
    password = forms.CharField(
        label="New password",
        required=False,
        strip=False,
        max_length=4096,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text="Empty: the old one stays.",
    )

    def __init__(self, *args, person: User, **kwargs) -> None:
        self.person = person
        super().__init__(*args, **kwargs)

    def clean(self) -> dict:
        typed = super().clean()
        if typed.get("password"):
            self.check_password(typed["password"], self.person)
        return typed


class PlaceForm(forms.ModelForm):
    class Meta:
        model = Place
        fields = ["name", "kind"]


class CustomerForm(forms.ModelForm):
    class Meta:
        model = Customer
        fields = ["name", "email", "phone", "address", "price_list", "notes"]
        error_messages = {
            "name": {
                "unique": "A customer of this name is in the list. Add what tells the two apart."
            }
        }
        help_texts = {"price_list": "Empty: the products' own prices."}
        widgets = {
            "address": forms.Textarea(attrs={"rows": 3}),
            "notes": forms.Textarea(attrs={"rows": 3}),
        }
