"""Scale sheets to print, and how to lay them and hold the camera."""

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_safe

from inventory.access import needs
from inventory.photos.sheet import BAR_MM, Paper, sheet_svg, sheets_pdf
from inventory.viewer import YardRequest

NUMBERS = (1, 2)
PAPERS = {paper.value.lower(): paper for paper in Paper}


@require_safe
@needs("record_slab")
def scale_sheets(request: YardRequest) -> HttpResponse:
    papers = [(name, paper.value) for name, paper in PAPERS.items()]
    if request.viewer.system == "imperial":
        papers.reverse()
    context = {"papers": papers, "bar_mm": BAR_MM}
    return render(request, "inventory/outlines/sheets.html", context)


@require_safe
@needs("record_slab")
def scale_sheets_print(request: YardRequest, paper: str) -> HttpResponse:
    """The sheets on the screen, printed from the browser in true size."""
    chosen = _paper(paper)
    sheets = [mark_safe(sheet_svg(number, chosen)) for number in NUMBERS]
    context = {"sheets": sheets, "paper": chosen.value, "name": paper}
    return render(request, "inventory/outlines/print.html", context)


@require_safe
@needs("record_slab")
def scale_sheets_pdf(request: YardRequest, paper: str) -> HttpResponse:
    chosen = _paper(paper)
    name = f"scale-sheets-{paper}.pdf"
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    pdf = sheets_pdf(chosen, NUMBERS)
    return HttpResponse(pdf, content_type="application/pdf", headers=headers)


def _paper(name: str) -> Paper:
    if name not in PAPERS:
        raise Http404("Scale sheets are printed on A4 or on Letter.")
    return PAPERS[name]
