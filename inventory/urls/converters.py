"""A slab's code in an address, typed as people type it: `<slab:code>` takes K7M4Q and k7m-4q alike.

Importing this module registers the converter.
"""

import re

from django.urls import register_converter

from inventory import codes

_PAGE_NAME = re.compile(r"[a-z][a-z_-]*")


class SlabCode:
    """A code, or what was meant as one.

    A word in small letters that is no code is the name of a page ("new"): the next address is
    tried. Anything else is handed on as typed, so that `fetch_slab` can say what is wrong with it.
    """

    regex = "[^/]+"

    def to_python(self, value: str) -> str:
        try:
            return codes.normalise(value)
        except codes.CodeProblem:
            if _PAGE_NAME.fullmatch(value):
                raise ValueError(f"{value} is a page's name") from None
            return value

    def to_url(self, value: str) -> str:
        return str(value)


register_converter(SlabCode, "slab")
