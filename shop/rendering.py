from django.forms.renderers import TemplatesSetting


class FormRenderer(TemplatesSetting):
    """Forms and fields are drawn by our own templates."""

    form_template_name = "forms/form.html"
    field_template_name = "forms/field.html"
    formset_template_name = "forms/formset.html"
