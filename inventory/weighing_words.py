"""A weighing in sentences: from what its moisture content was reckoned."""

from inventory import weighing
from inventory.models import Basis, Weighing
from inventory.wood.masses import format_mass_fine
from inventory.wood.weighing import sections_mc_pct


def steps(row: Weighing, system: str) -> list[tuple[str, str]]:
    """Term and value of each step from the scale to the moisture content of a whole slab."""
    dry_kg = weighing.oven_dry_kg(row)
    return [
        ("Mass", format_mass_fine(row.mass_kg, system)),
        ("How its dry mass is known", basis_words(row, system)),
        ("Without any water", format_mass_fine(dry_kg, system)),
        ("Moisture", f"{weighing.mc_pct(row):.1f}\N{NO-BREAK SPACE}%"),
    ]


def basis_words(row: Weighing, system: str) -> str:
    """`44 kg when it had 15.0 %`."""
    if row.basis == Basis.EARLIER and row.earlier_kg is not None:
        then = format_mass_fine(row.earlier_kg, system)
        return f"{then} when it had {row.earlier_mc_pct:.1f}\N{NO-BREAK SPACE}%"
    if row.basis == Basis.SECTIONS:
        number = len(row.sections)
        mean = sections_mc_pct([(wet, dry) for wet, dry in row.sections])
        sections = "section" if number == 1 else "sections"
        return f"{number} {sections} cut that day, {mean:.1f}\N{NO-BREAK SPACE}% by the oven"
    return "Dried in the oven"
