"""What the stock is worth: on the page, and as a workbook of the same figures."""

import tempfile
from typing import Any

from django.http import FileResponse, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory import worth as rules
from inventory import worth_picture
from inventory.access import needs
from inventory.forms.worth import IN_STOCK, WorthForm
from inventory.spreadsheet.workbook import write_workbook
from inventory.viewer import YardRequest

WORKBOOK_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
NOWHERE = "none"  # what the browse page calls slabs without a place


@require_safe
@needs("see_cost")
def worth(request: YardRequest) -> HttpResponse:
    form = WorthForm(request.GET)
    scope = form.scope(timezone.localdate())
    summary = rules.summary(form.by_name, scope)
    context = {
        "form": form,
        "scope": scope,
        "dimension": rules.DIMENSIONS[form.by_name].words,
        "dimensions": _ways(form),
        "rows": [(row, _browse(form, row)) for row in summary.rows],
        "total": summary.total,
        "unpriced": _browse_address(form, "priced", "no"),
        "ages": worth_picture.rows(rules.ages_by_species(scope)),
        "age_headings": worth_picture.headings(),
        "workbook": f"{reverse('inventory:worth_workbook')}?{form.address()}".rstrip("?"),
    }
    return render(
        request, "inventory/worth/page.html", context, status=200 if form.is_valid() else 422
    )


@require_safe
@needs("see_cost")
def worth_workbook(request: YardRequest) -> Any:
    """The slabs the page counts, streamed to a file that is handed on and forgotten."""
    form = WorthForm(request.GET)
    if not form.is_valid():
        return redirect(f"{reverse('inventory:worth')}?{request.GET.urlencode()}")
    scope = form.scope(timezone.localdate())
    file = tempfile.TemporaryFile(suffix=".xlsx")  # noqa: SIM115  (the response closes it)
    write_workbook(scope, request.viewer.system, file)
    file.seek(0)
    name = f"stock-{scope.on:%Y-%m-%d}.xlsx"
    return FileResponse(file, as_attachment=True, filename=name, content_type=WORKBOOK_TYPE)


def _ways(form: WorthForm) -> list[tuple[str, str, bool]]:
    """(words, address, whether it is this one) of each way to sort."""
    return [
        (one.words, f"?{form.address(by=name)}", name == form.by_name)
        for name, one in rules.DIMENSIONS.items()
    ]


def _browse(form: WorthForm, row: rules.Row) -> str:
    """The same slabs on the browse page."""
    return _browse_address(form, form.by_name, NOWHERE if row.key is None else str(row.key))


def _browse_address(form: WorthForm, name: str, value: str) -> str:
    """The browse page, asked as this page is and for one thing more."""
    query = QueryDict(mutable=True)
    for known in ("species", "place", "standing"):
        asked = form.data.get(known)
        if asked and asked != IN_STOCK and known in form.cleaned_data:
            query[known] = asked
    query[name] = value
    return f"{reverse('catalogue:browse')}?{query.urlencode()}"
