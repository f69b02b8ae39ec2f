"""From photograph to outline: scale sheets, tracing, correcting, taking back."""

from django.urls import URLPattern, path

from inventory.urls import converters  # noqa: F401  (registers <slab:code>)
from inventory.views import outlines, scale_sheets

urlpatterns: list[URLPattern] = [
    path("scale-sheets/", scale_sheets.scale_sheets, name="scale_sheets"),
    path("scale-sheets/<str:paper>/", scale_sheets.scale_sheets_print, name="scale_sheets_print"),
    path("scale-sheets/<str:paper>/pdf/", scale_sheets.scale_sheets_pdf, name="scale_sheets_pdf"),
    path("slabs/<slab:code>/outline/", outlines.outline_start, name="outline_start"),
    path("slabs/<slab:code>/outline/trace/", outlines.outline_trace, name="outline_trace"),
    path("slabs/<slab:code>/outline/picture/", outlines.outline_straight, name="outline_straight"),
    path("slabs/<slab:code>/outline/figures/", outlines.outline_figures, name="outline_figures"),
    path("slabs/<slab:code>/outline/save/", outlines.outline_save, name="outline_save"),
    path(
        "slabs/<slab:code>/outline/<str:side>/correct/",
        outlines.outline_correct,
        name="outline_correct",
    ),
    path(
        "slabs/<slab:code>/outline/<str:side>/take-back/",
        outlines.outline_withdraw,
        name="outline_withdraw",
    ),
]
