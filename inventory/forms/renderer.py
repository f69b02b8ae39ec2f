"""How every form field of the site is drawn: label, help, widget, what is wrong, what is asked."""

from django.forms.renderers import TemplatesSetting


class Renderer(TemplatesSetting):
    field_template_name = "inventory/forms/field.html"
