"""Whether the scale holds where the slab turns out to lie."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from inventory.photos.lying import look_over
from inventory.photos.marks import read_sheets
from inventory.photos.problems import Trouble
from inventory.photos.scale import Scale
from tests.photos.test_marks import ON_FACE, seen
from tests.photos.test_scale import SIZE

AROUND = np.array([(300, 500), (2700, 500), (2700, 1600), (300, 1600)], dtype=np.float64)


def scale() -> Scale:
    found = read_sheets(seen(*ON_FACE[:2]), SIZE).scale
    assert found is not None
    return found


def troubles(found: Scale, outline_px: np.ndarray) -> set[Trouble]:
    return {problem.trouble for problem in look_over(found, found.mm(outline_px))}


def test_sheets_on_the_slab_in_the_picture_say_nothing() -> None:
    assert troubles(scale(), AROUND) == set()


def test_a_sheet_beside_the_slab_is_said() -> None:
    left_half = AROUND * (0.4, 1.0)
    told = look_over(scale(), scale().mm(left_half))
    assert [problem.trouble for problem in told] == [Trouble.OFF_SLAB]
    assert "Sheets 1 and 2 lie beside" in str(told[0]) or "lies beside" in str(told[0])


def test_a_scale_already_corrected_by_the_thickness_is_not_asked_again() -> None:
    assert Trouble.OFF_SLAB not in troubles(scale().raised(60.0), AROUND * (0.4, 1.0))


def test_a_slab_that_runs_out_of_the_picture_is_said_with_its_side() -> None:
    told = look_over(scale(), scale().mm(np.add(AROUND, (299, 0))))
    assert [problem.trouble for problem in told] == [Trouble.CUT_OFF]
    assert "right edge" in str(told[0])


def test_a_scale_that_leaves_the_area_unsure_is_said() -> None:
    found = scale()
    assert found.covariance is not None
    loose = replace(found, covariance=found.covariance * 1e9)
    assert Trouble.UNSURE in troubles(loose, AROUND)
