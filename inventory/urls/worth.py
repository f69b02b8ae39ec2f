"""What the stock is worth, on the page and as a workbook."""

from django.urls import URLPattern, path
from django.views.generic import TemplateView

urlpatterns: list[URLPattern] = [
    path("worth/", TemplateView.as_view(template_name="base.html"), name="worth"),
]
