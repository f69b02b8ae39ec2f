"""What the stock is worth, on the page and as a workbook."""

from django.urls import URLPattern, path

from inventory.views import worth

urlpatterns: list[URLPattern] = [
    path("worth/", worth.worth, name="worth"),
    path("worth/workbook/", worth.worth_workbook, name="worth_workbook"),
]
