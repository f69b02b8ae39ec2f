"""Numbers and words out of an address, whatever stands there."""

import pytest

from inventory.asked import whole_number, words_asked


@pytest.mark.parametrize(
    ("text", "number"), [("0", 0), ("12", 12), ("007", 7), ("999999999", 10**9 - 1)]
)
def test_plain_digits_are_a_number(text: str, number: int) -> None:
    assert whole_number(text) == number


@pytest.mark.parametrize(
    "text", [None, "", " 1", "-1", "1.0", "²", "٣", "1e3", "9" * 10, "9" * 5000, "a"]
)
def test_anything_else_is_none(text: str | None) -> None:
    assert whole_number(text) is None


def test_words_lose_what_no_record_holds() -> None:
    assert words_asked(None) == ""
    assert words_asked("  black walnut ") == "black walnut"
    assert words_asked("a\x00b\tc") == "a b c"
    assert len(words_asked("x" * 500)) == 80
