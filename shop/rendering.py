from django import forms
from django.core import validators
from django.forms.renderers import TemplatesSetting


class FormRenderer(TemplatesSetting):
    """Forms and fields are drawn by our own templates."""

    form_template_name = "forms/form.html"
    field_template_name = "forms/field.html"
    formset_template_name = "forms/formset.html"


def say_what_is_missing() -> None:
    """Every form's word for an empty field, or one too full, says what to do, not what the program wants."""
    forms.Field.default_error_messages["required"] = "Fill this in."
    forms.ChoiceField.default_error_messages["required"] = "Choose one."
    forms.FileField.default_error_messages["required"] = "Choose a file."
    validators.MaxLengthValidator.message = (
        "This can have at most %(limit_value)d characters, and has %(show_value)d. Shorten it."
    )
