"""Every code is distinct, readable and catches one slip."""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.codes import (
    ALPHABET,
    CodeProblem,
    display,
    fresh_codes,
    is_valid,
    normalise,
    random_code,
    with_check,
)

codes = st.text(alphabet=ALPHABET, min_size=4, max_size=4).map(with_check)


def some_codes(count: int) -> list[str]:
    return fresh_codes(count, (), random.Random(29))


def test_every_single_wrong_character_is_caught() -> None:
    for code in some_codes(1500):
        for place, right in enumerate(code):
            for wrong in ALPHABET.replace(right, ""):
                assert not is_valid(code[:place] + wrong + code[place + 1 :])


def test_every_swap_of_unlike_neighbours_is_caught() -> None:
    pairs = [(a, b) for a in ALPHABET for b in ALPHABET if a != b]
    for place in range(3):
        for a, b in pairs:
            body = ("2" * place + a + b + "KM")[:4]
            code = with_check(body)
            assert not is_valid(code[:place] + b + a + code[place + 2 :])
    for code in some_codes(5000):
        if code[3] != code[4]:
            assert not is_valid(code[:3] + code[4] + code[3])


@given(codes)
def test_a_code_survives_being_shown_and_typed(code: str) -> None:
    assert is_valid(code)
    assert normalise(display(code)) == code
    assert normalise(f"  {code.lower()} ") == code
    assert normalise(" ".join(code)) == code


def test_a_code_is_shown_in_two_parts() -> None:
    assert display("K7M4Q") == "K7M-4Q"


def test_the_alphabet_has_nothing_to_mistake_and_no_vowels() -> None:
    assert len(set(ALPHABET)) == len(ALPHABET) == 29
    assert not set("01IOAEU") & set(ALPHABET)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("K7M4O", "“O” is not in a code: there is no letter O"),
        ("K7M40", "“0” is not in a code: there is no zero"),
        ("1K7M4", "“1” is not in a code: there is no one"),
        ("KIM42", "“I” is not in a code: there is no letter I"),
        ("KAM42", "“A” is not in a code: there are no vowels"),
        ("K7M4?", "“\\?” is not in a code"),
        ("K7M4É", "“É” is not in a code"),
        ("K7M", "this one has 3 characters"),
        ("K", "this one has 1 character\\."),
        ("K7M4XX", "this one has 6 characters"),
        ("", "Type the code"),
        (" - ", "Type the code"),
    ],
)
def test_what_is_wrong_with_a_code_is_said(typed: str, said: str) -> None:
    with pytest.raises(CodeProblem, match=said):
        normalise(typed)


def test_a_slip_is_said_plainly() -> None:
    code = with_check("K7M4")
    with pytest.raises(CodeProblem, match=r"^One character is off: look at the tag again\.$"):
        normalise("7K" + code[2:])


def test_odd_text_is_no_code() -> None:
    for text in ("", "K7M4", "k7m4x", "K7M-4X", "ßßßßß", "00000"):
        assert not is_valid(text)


@pytest.mark.parametrize("body", ["", "K7M", "K7M42", "K0M4"])
def test_only_a_body_gets_a_check(body: str) -> None:
    with pytest.raises(CodeProblem):
        with_check(body)


def test_fresh_codes_are_valid_new_and_repeatable() -> None:
    taken = set(some_codes(500))
    fresh = fresh_codes(500, taken, random.Random(3))
    assert len(set(fresh)) == 500
    assert not taken & set(fresh)
    assert all(is_valid(code) for code in fresh)
    assert fresh == fresh_codes(500, taken, random.Random(3))
    assert fresh_codes(0, taken, random.Random(3)) == []


class AllButThese:
    """A yard in which every code is taken but a few."""

    def __init__(self, left: set[str]) -> None:
        self.left = left

    def __contains__(self, code: object) -> bool:
        return code not in self.left


def test_the_last_free_codes_are_found_and_then_it_says_so() -> None:
    left = {with_check("2233"), with_check("2345")}
    assert set(fresh_codes(2, AllButThese(left), random.Random(1))) == left
    with pytest.raises(CodeProblem, match="Only 2 codes are left of the 707,281"):
        fresh_codes(3, AllButThese(left), random.Random(1))


def test_random_codes_use_the_whole_alphabet() -> None:
    rng = random.Random(5)
    assert set("".join(random_code(rng) for _ in range(500))) == set(ALPHABET)
