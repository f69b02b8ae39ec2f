"""What the shop takes off and allows when it lays a top; each is shown where it decides."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Allowances:
    # Common practice: 3 to 6 mm a face on a flat slab, more where it cups or twists.
    face_mm: float = 3.0
    # Straightening an edge that is glued or cast against.
    joint_mm: float = 3.0
    # Common practice: what a track saw or a band mill takes.
    kerf_mm: float = 3.0
    # Two slabs of one bookmatch: thicknesses may differ by this much.
    pair_thickness_mm: float = 3.0
    # Resin between two slabs, at its widest, as a share of the top's width.
    resin_gap_share: float = 0.30
    # A narrower gap is hard to pour full.
    least_gap_mm: float = 10.0
    # Common practice: cast casting resins weigh 1050 to 1200; the maker's data sheet decides.
    resin_kg_m3: float = 1100.0


ALLOWANCES = Allowances()
