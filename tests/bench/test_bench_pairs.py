"""Two slabs with resin between: how near the least resin there is, and how fast.

The reference tries every way: 5 mm along, half a degree, either edge, either way round
(tests/catalogue/layout/reference_pairs.py); it takes seconds a pair. Seeds below 1000 were used
for tuning, these were not. Time: the best pair among 1,000 slabs, beside bare numpy's passes over
as many edges: every two of them compared at 17 places, either way round. Run with `-m bench -s`.
"""

import sys
from itertools import combinations
from time import perf_counter

import numpy as np
import pytest

from catalogue.layout import pairs
from catalogue.layout.rules import Allowances
from catalogue.layout.tops import Top
from inventory.wood.shape import Shape
from tests.catalogue.layout.reference_pairs import least_resin_mm2
from tests.catalogue.layout.shapes import banana, tapered, waisted, wavy

pytestmark = pytest.mark.bench
WIDE = Allowances(resin_gap_share=0.6)
SLABS = 1000


def test_least_resin_beside_trying_every_way() -> None:
    ratios: list[float] = []
    kinds: list[tuple[list[Shape], float]] = [
        ([wavy(1901 + at, 2200, 180 + 15 * at) for at in range(6)], 700.0),
        ([wavy(1911 + at, 2200, 240 + 15 * at) for at in range(6)], 700.0),
        ([make(1921 + at) for at, make in enumerate((banana, tapered, waisted, banana))], 1250.0),
    ]
    for slabs, width in kinds:
        top = Top("rectangle", 2000, width)
        two = list(combinations(range(len(slabs)), 2))
        least = [least_resin_mm2(2000, width, slabs[i], slabs[j], 10.0) for i, j in two]
        laid = [pairs.lay_pair(top, slabs[i], slabs[j], rules=WIDE).resin_mm2 for i, j in two]
        best = pairs.best_pairs(top, slabs, rules=WIDE, most=1)[0].resin_mm2
        sys.stdout.write(
            f"\nbest pair of {len(slabs)}: {best / min(least):.3f} of the reference's least resin"
        )
        ratios += [ours / theirs for ours, theirs in zip(laid, least, strict=True)]
        assert best <= 1.03 * min(least)
    sys.stdout.write(
        f"\n{len(ratios)} pairs: resin over the reference's: median {np.median(ratios):.3f}, "
        f"worst {max(ratios):.3f}, within 3 % {np.mean(np.array(ratios) <= 1.03):.0%}\n"
    )
    assert np.mean(np.array(ratios) <= 1.03) >= 0.85


def test_best_pair_among_a_thousand() -> None:
    slabs = [wavy(seed, 2200.0 + seed % 900, 170.0 + seed % 130) for seed in range(2001, 2101)]
    slabs = [slabs[at % len(slabs)] for at in range(SLABS)]
    top = Top("rectangle", 2000, 900)
    pairs.best_pairs(top, slabs[:20])
    began = perf_counter()
    found = pairs.best_pairs(top, slabs, most=1)
    ours = perf_counter() - began
    began = perf_counter()
    _passes(np.random.default_rng(1).normal(size=(6 * SLABS, 17)).astype(np.float32))
    floor = perf_counter() - began
    sys.stdout.write(f"\nbest pair of {SLABS}: {ours:.2f} s; numpy's passes alone {floor:.2f} s\n")
    assert found
    assert ours < 5.0


def _passes(edges: np.ndarray) -> None:
    for begin in range(0, len(edges), 32):
        for way in (1, -1):
            block, others = edges[begin : begin + 32].T, edges[begin:, ::way].T.copy()
            least = np.full((block.shape[1], others.shape[1]), np.inf, dtype=np.float32)
            for mine, theirs in zip(block, others, strict=True):
                np.minimum(least, mine[:, None] + theirs, out=least)
