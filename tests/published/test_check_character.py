"""The slab code's check character against its published scheme, ISO/IEC 7064 pure systems.

A pure system with radix 2 and a prime modulus finds every single substitution and every swap of
neighbours; no quasigroup table (Damm) or dihedral group (Verhoeff) is used.
"""

from __future__ import annotations

from stdnum.iso7064 import mod_37_2

from inventory.codes import ALPHABET, with_check


def weighted_check(body: str, alphabet: str) -> str:
    """ISO/IEC 7064's other way of reckoning: weights are powers of two, the sum is to be 1.

    The standard gives a recursive and a polynomial method that must agree; the library uses the
    first, this is the second.
    """
    modulus, length = len(alphabet), len(body)
    total = sum(
        alphabet.index(character) * pow(2, length - place, modulus)
        for place, character in enumerate(body)
    )
    return alphabet[(1 - total) % modulus]


def test_the_scheme_gives_the_published_example() -> None:
    """The donation number G123 489654321 has check character Y under MOD 37-2: the example in
    python-stdnum's documentation of ISO 7064 MOD 37-2, an ISBT 128 number."""
    whole = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*"
    assert mod_37_2.calc_check_digit("G123489654321") == "Y"
    assert weighted_check("G123489654321", whole) == "Y"


def test_the_smaller_sister_scheme_gives_its_published_example_too() -> None:
    """MOD 11-2 of the same standard: 079 has check character X (python-stdnum's documentation)."""
    assert weighted_check("079", "0123456789X") == "X"


def test_our_codes_follow_the_same_scheme_with_our_alphabet() -> None:
    for body in ("2222", "K7M4", "ZZZZ", "B3B3", "9XHT"):
        assert with_check(body) == body + weighted_check(body, ALPHABET)


def test_the_modulus_is_prime_and_two_never_vanishes() -> None:
    modulus = len(ALPHABET)
    assert modulus == 29
    assert all(modulus % divisor for divisor in range(2, modulus))
