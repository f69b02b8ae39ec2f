"""A small demo yard for browser tests: real slabs with real faces, quick to load."""

from collections.abc import Iterator, Sequence
from contextlib import AbstractContextManager, nullcontext

from django.contrib.auth.hashers import make_password
from django.utils import timezone

from catalogue import roles
from catalogue.demo import loading
from catalogue.demo.stock import Yard
from catalogue.demo.studio import Drawn, Sitter, Stack
from inventory import species_table
from inventory.demo.frame import px_per_m_for
from inventory.demo.picture import draw_face
from inventory.models import Person, Species
from inventory.photos.intake import Intake, from_image
from tests.factories import PASSWORD

FACE_PX = 800
_album: dict[int, Intake] = {}


def small_yard(logs: int = 5, *, faces: bool = True) -> Yard:
    """So many logs of the demo yard, each slab with its face (drawn once a run) or none.

    Everybody signs in with the tests' own PASSWORD: `maren` (owner), `osk` and `dilys` (workers),
    `tobiah` (buyer). Rows that a flush of the database took away are put back.
    """
    species_table.load(Species)
    roles.sync_groups()
    yard = loading.load(timezone.now(), logs=logs, draw=_faces if faces else None)
    Person.objects.update(password=make_password(PASSWORD))
    return yard


def _faces(stacks: Sequence[Stack]) -> AbstractContextManager[Iterator[Drawn]]:
    sitters = (sitter for stack in stacks for sitter in stack)
    return nullcontext(Drawn(sitter.key, "face_dry", _face(sitter)) for sitter in sitters)


def _face(sitter: Sitter) -> Intake:
    shape = sitter.shape
    if shape.seed not in _album:
        scale = px_per_m_for(shape, FACE_PX)
        picture = draw_face(
            shape, sitter.look, seed=shape.seed, figure=sitter.figure, px_per_m=scale
        )
        _album[shape.seed] = from_image(picture)
    return _album[shape.seed]
