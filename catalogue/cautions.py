"""A species' hazard and trade note, turned into sentences of caution for one slab."""

import re

from inventory.models import Figure, Slab

_PROVENANCE = re.compile(r"\s*\(memory\)|;\s*memory(?=\))")
_HARMS = ("dust", "sensitiser", "irritant", "irritat", "toxic", "allerg", "dermatitis", "splinter")


def cautions(slab: Slab) -> list[str]:
    """What to know before sawing this wood or sending it abroad; empty when nothing is on record.

    A note about spalted wood counts only for a spalted slab.
    """
    said = []
    for sentence in _sentences(_PROVENANCE.sub("", slab.species.caution)):
        if "spalted" in sentence.lower() and Figure.SPALT not in slab.figures:
            continue
        said.append(_as_caution(sentence))
    return said


def _sentences(note: str) -> list[str]:
    return [part.strip() for part in re.split(r"(?<=[.!])\s+(?=[A-Z\"])", note) if part.strip()]


def _as_caution(sentence: str) -> str:
    if sentence.startswith("CITES"):
        listing = sentence.rstrip(".")
        return f"{listing}: keep its papers with it, and ask before it crosses a border."
    if any(harm in sentence.lower() for harm in _HARMS):
        return f"{sentence.rstrip('.')}. Draw off the dust, wear a mask, and cover your skin."
    return sentence
