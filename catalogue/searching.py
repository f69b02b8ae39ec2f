"""Finding slabs by what somebody types: a code off a tag, or words from anywhere on the record."""

import re

from django.db.models import Q

from inventory import codes
from inventory.models import Figure, Log, Parcel, Place, Sawn, Slab, Species
from inventory.models.slab import SlabQuerySet
from inventory.viewer import Viewer

MOST_WORDS = 6
_CODE_SHAPE = re.compile(r"[a-z0-9]{3}(?P<dash>[-‐‑–]?)\s?[a-z0-9]{2}", re.IGNORECASE)


def looks_like_code(text: str) -> bool:
    """Five characters our tags use, or five with the tag's dash in its place.

    No word of English or botany passes: codes have no vowels, so a dash is the only other way in.
    """
    shape = _CODE_SHAPE.fullmatch(text.strip())
    if not shape:
        return False
    bare = re.sub(r"[^A-Z0-9]", "", text.upper())
    return bool(shape["dash"]) or all(character in codes.ALPHABET for character in bare)


def code_asked_for(text: str) -> str | None:
    """The bare code when one was typed, None when it was words.

    Raises:
        codes.CodeProblem: a code with a slip in it; its text is the sentence to show.
    """
    return codes.normalise(text) if looks_like_code(text) else None


def slab_asked_for(text: str, slabs: SlabQuerySet) -> Slab | None:
    """The one slab among `slabs` whose code was typed."""
    try:
        code = code_asked_for(text)
    except codes.CodeProblem:
        return None
    return slabs.filter(code=code).first() if code else None


def narrow(slabs: SlabQuerySet, text: str, viewer: Viewer) -> SlabQuerySet:
    """Slabs on whose record every word stands somewhere; what a viewer may not read is not read."""
    for word in text.split()[:MOST_WORDS]:
        slabs = slabs.filter(_anywhere(word, viewer))
    return slabs


def _anywhere(word: str, viewer: Viewer) -> Q:
    found = _in_the_open(word)
    if viewer.sees_house:
        places = Place.objects.filter(name__icontains=word)
        found |= Q(house_note__icontains=word) | Q(place_id__in=places.values("pk"))
    if viewer.sees_cost:
        named = Q(name__icontains=word) | Q(supplier__icontains=word)
        parcels = Parcel.objects.filter(named).values("pk")
        found |= Q(parcel_id__in=parcels) | Q(log__parcel_id__in=parcels)
    return found


def _in_the_open(word: str) -> Q:
    species = Species.objects.filter(
        Q(common_name__icontains=word)
        | Q(botanical_name__icontains=word)
        | Q(other_names__icontains=word)
    )
    logs = Log.objects.filter(number__icontains=word)
    found = Q(species_id__in=species.values("pk")) | Q(log_id__in=logs.values("pk"))
    found |= Q(client_note__icontains=word)
    found |= Q(code__startswith=re.sub(r"[-‐‑–]", "", word).upper())
    for value, words in Figure.choices:
        if word.lower() in str(words).lower():
            found |= Q(figure_words__contains=f"|{value}|")
    return found | Q(sawn__in=[value for value, words in Sawn.choices if _said(word, value, words)])


def _said(word: str, value: str, words: str) -> bool:
    return bool(value) and word.lower() in str(words).lower()
