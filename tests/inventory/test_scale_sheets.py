"""The sheets that give a picture its scale, printed by the yard."""

import pytest
from django.test import Client
from django.urls import reverse

pytestmark = pytest.mark.django_db


def test_scale_sheets_are_printed_on_either_paper(worker_client: Client) -> None:
    assert worker_client.get(reverse("inventory:scale_sheets")).status_code == 200
    for paper in ("a4", "letter"):
        page = worker_client.get(reverse("inventory:scale_sheets_print", args=[paper]))
        assert page.content.count(b'class="scale-sheet"') == 2
        pdf = worker_client.get(reverse("inventory:scale_sheets_pdf", args=[paper]))
        assert pdf.content.startswith(b"%PDF")
        assert paper in pdf["Content-Disposition"]
    for name in ("print", "pdf"):
        wrong = worker_client.get(reverse(f"inventory:scale_sheets_{name}", args=["a3"]))
        assert wrong.status_code == 404
