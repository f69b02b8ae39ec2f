"""A yard from before true shapes: migrated, served meanwhile, mended by `rederive`, taken back."""

from collections.abc import Iterator
from io import StringIO
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.test import Client

from inventory import shapes
from inventory.models import Slab, SlabShape
from tests.conftest import client_for
from tests.factories import make_person, make_slab

pytestmark = pytest.mark.django_db(transaction=True)

BEFORE = [("inventory", "0002_published_species"), ("catalogue", "0001_initial")]


def migrate(targets: list[tuple[str, str]]) -> Any:
    executor = MigrationExecutor(connection)
    executor.migrate(targets)
    return MigrationExecutor(connection).loader.project_state(targets).apps


@pytest.fixture
def latest() -> Iterator[list[tuple[str, str]]]:
    """Whatever happens, the database is left as the other tests need it."""
    leaves = list(MigrationExecutor(connection).loader.graph.leaf_nodes())
    try:
        yield leaves
    finally:
        migrate(leaves)


@pytest.fixture
def owner() -> Client:
    return client_for(make_person("Owner"))


def test_an_old_yard_serves_at_once_and_rederive_makes_its_shapes(
    latest: list[tuple[str, str]], owner: Client
) -> None:
    slab = make_slab()
    code, wood_mm2 = slab.code, slab.wood_mm2
    old = migrate(BEFORE)
    columns = {field.name for field in old.get_model("inventory", "Slab")._meta.fields}
    assert "wood_mm2" not in columns
    migrate(latest)

    stored = Slab.objects.get(code=code)
    assert stored.wood_mm2 == pytest.approx(wood_mm2)
    assert not SlabShape.objects.exists()
    assert shapes.shapes_of([stored])[stored.pk].wood_mm2 == pytest.approx(wood_mm2)
    for address in (stored.get_absolute_url(), "/slabs/", f"/slabs/{code}/measure/"):
        assert owner.get(address).status_code == 200

    out = StringIO()
    with pytest.raises(CommandError, match="drifted"):
        call_command("rederive", check=True, stdout=out)
    assert f"{stored.display_code}, its shape: shape is None" in out.getvalue()
    call_command("rederive", stdout=StringIO())
    assert SlabShape.objects.filter(slab=stored).exists()
    call_command("rederive", check=True, stdout=StringIO())
