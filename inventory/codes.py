"""Slab codes: four characters and a check character, to be read aloud and typed with gloves.

The alphabet has no 0, 1, I or O, which are mistaken for each other, and no vowel, so that no word
can appear by chance. The check character follows the pure system of ISO/IEC 7064:2003 with radix 2,
"MOD M-2": the published designations are MOD 11-2 and MOD 37-2, and the modulus here is the length
of our alphabet, 29. Because 29 is prime, every single wrong character and every swap of two
neighbours is caught, the check character included. The arithmetic is python-stdnum's
`stdnum.iso7064.mod_37_2`, which takes the alphabet as an argument.
"""

from __future__ import annotations

import itertools
import random
import re
from collections.abc import Container

from stdnum.iso7064 import mod_37_2

ALPHABET = "23456789BCDFGHJKLMNPQRSTVWXYZ"
BODY_LENGTH = 4
CODE_LENGTH = BODY_LENGTH + 1
POSSIBLE = len(ALPHABET) ** BODY_LENGTH
# Half the space may be taken before random picks grow slow; beyond these tries we walk instead.
TRIES_PER_CODE = 64

_SEPARATORS = re.compile(r"[\s.\-‐‑‒–—_/]+")
_HELP = {
    "0": "there is no zero on our tags: it may be a Q, a D or an 8",
    "O": "there is no letter O on our tags: it may be a Q, a D or an 8",
    "1": "there is no one on our tags: it may be an L, a T or a 7",
    "I": "there is no letter I on our tags: it may be an L, a T or a 7",
}


class CodeProblem(ValueError):
    """A code that cannot be a slab's. Its text is a sentence for the screen."""


def with_check(body: str) -> str:
    """The whole code of a four-character body: 'K7M4' → 'K7M4' and its check character.

    Raises CodeProblem when the body has another length or a character we do not use.
    """
    body = _cleaned(body)
    if len(body) != BODY_LENGTH:
        raise CodeProblem(f"A code begins with {BODY_LENGTH} characters, not {len(body)}.")
    return body + str(mod_37_2.calc_check_digit(body, alphabet=ALPHABET))


def is_valid(code: str) -> bool:
    """Whether a bare code (no dash, upper case) is one we could have given."""
    return len(code) == CODE_LENGTH and bool(mod_37_2.is_valid(code, alphabet=ALPHABET))


def normalise(text: str) -> str:
    """What somebody typed → the bare code: 'k7m 4q' → 'K7M4Q'.

    Raises CodeProblem, saying what to look at, for a character we do not use, a wrong length, or
    a check character that does not agree.
    """
    code = _cleaned(text)
    if not code:
        raise CodeProblem("Type the code on the slab's tag.")
    if len(code) != CODE_LENGTH:
        characters = "1 character" if len(code) == 1 else f"{len(code)} characters"
        raise CodeProblem(f"A code has {CODE_LENGTH} characters: this one has {characters}.")
    if not is_valid(code):
        raise CodeProblem("One character is off: look at the tag again.")
    return code


def display(code: str) -> str:
    """The code as the tag shows it: 'K7M4Q' → 'K7M-4Q'."""
    return f"{code[:3]}-{code[3:]}"


def random_code(rng: random.Random) -> str:
    """A valid code drawn evenly from all there are."""
    return with_check("".join(rng.choices(ALPHABET, k=BODY_LENGTH)))


def fresh_codes(n: int, taken: Container[str], rng: random.Random) -> list[str]:
    """`n` different valid codes, none of them in `taken`.

    Drawn at random, so a code tells nothing of the slab's age. Raises CodeProblem when fewer than
    `n` are left of the 707,281 there are.
    """
    fresh: dict[str, None] = {}
    for _ in range(n * TRIES_PER_CODE):
        if len(fresh) == n:
            break
        code = random_code(rng)
        if code not in taken:
            fresh[code] = None
    return list(fresh) if len(fresh) >= n else _walk(n, taken, fresh)


def _walk(n: int, taken: Container[str], fresh: dict[str, None]) -> list[str]:
    """The rest in plain order, for a yard that has used nearly every code."""
    for characters in itertools.product(ALPHABET, repeat=BODY_LENGTH):
        if len(fresh) >= n:
            break
        code = with_check("".join(characters))
        if code not in taken:
            fresh[code] = None
    if len(fresh) < n:
        raise CodeProblem(f"Only {len(fresh)} codes are left of the {POSSIBLE:,} there are.")
    return list(fresh)


def _cleaned(text: str) -> str:
    code = _SEPARATORS.sub("", text).upper()
    for character in code:
        if character not in ALPHABET:
            raise CodeProblem(_why_not(character))
    return code


def _why_not(character: str) -> str:
    if character in _HELP:
        return f"“{character}” is not in a code: {_HELP[character]}."
    if character.isalpha() and character in "AEU":
        return f"“{character}” is not in a code: there are no vowels on our tags."
    return f"“{character}” is not in a code: codes have only figures and capital letters."
