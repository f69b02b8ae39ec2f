"""Whole numbers as an address or a hidden field names them: keys, page numbers, counts."""

# Nine digits fit every database's integers, and are quick to read.
MOST_DIGITS = 9


def whole_number(text: str | None) -> int | None:
    """The number those digits write; None for whatever is no plain whole number.

    `str.isdigit` alone lets `²` through, which `int` refuses, and numbers past every column.
    """
    if text is None or not (text.isascii() and text.isdigit() and len(text) <= MOST_DIGITS):
        return None
    return int(text)
