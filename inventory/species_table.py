"""The published species table, put into the database; a shop's own species are left alone."""

from typing import Any

from inventory.wood.species import SpeciesRow, published_species


def values_of(row: SpeciesRow) -> dict[str, Any]:
    """Model fields of one published row."""
    return {
        "botanical_name": row.botanical_name,
        "other_names": row.other_names,
        "wood_group": row.group,
        "sg_green": row.sg_green,
        "sg_12": row.sg_12,
        "shrink_radial_pct": row.shrink_radial_pct,
        "shrink_tangential_pct": row.shrink_tangential_pct,
        "shrink_volumetric_pct": row.shrink_volumetric_pct,
        "cr": row.cr,
        "ct": row.ct,
        "caution": row.cites_or_hazard_note,
        "source": row.source,
    }


def load(species_model: Any) -> int:
    """Add or refresh every published row of `species_model`; returns how many are new."""
    known = {
        species.common_name: species for species in species_model.objects.filter(is_published=True)
    }
    new: list[Any] = []
    changed: list[Any] = []
    for row in published_species():
        species = known.get(row.common_name)
        target = species or species_model(common_name=row.common_name, is_published=True)
        for name, value in values_of(row).items():
            setattr(target, name, value)
        (changed if species else new).append(target)
    species_model.objects.bulk_create(new)
    fields = list(values_of(published_species()[0]))
    species_model.objects.bulk_update(changed, fields)
    return len(new)
