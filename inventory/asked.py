"""What an address or a hidden field names: keys, page numbers, counts, and words to look for."""

# Nine digits fit every database's integers, and are quick to read.
MOST_DIGITS = 9
MOST_CHARACTERS = 80


def whole_number(text: str | None) -> int | None:
    """The number those digits write; None for whatever is no plain whole number.

    `str.isdigit` alone lets `²` through, which `int` refuses, and numbers past every column.
    """
    if text is None or not (text.isascii() and text.isdigit() and len(text) <= MOST_DIGITS):
        return None
    return int(text)


def words_asked(text: str | None) -> str:
    """The words to look for, without what no record holds and PostgreSQL refuses: NUL and its like.

    Longer than anybody types is cut.
    """
    plain = "".join(one if one.isprintable() else " " for one in (text or "")[:MOST_CHARACTERS])
    return plain.strip()
