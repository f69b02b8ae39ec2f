"""A meter maker's table read row by row: what is good stands, what is not says why."""

import pytest

from inventory.meter_rows import Names, TableProblem, curves, names_of, read_rows

NAMES = names_of(
    [
        (1, "Walnut, black", "Juglans nigra", "American walnut; walnut", True),
        (2, "Oak, white", "Quercus alba", "oak", True),
        (3, "Oak, red", "Quercus rubra", "oak, northern red oak", True),
        (4, "Walnut, black", "Juglans nigra", "", False),
    ]
)
GOOD = "species,reading,corrected\nwalnut,6,7\nJuglans nigra,12,13.5\n,6,6.2\nany,12,12.4\n"


def problems(text: str, names: Names = NAMES) -> dict[int, str]:
    return {row.line: row.problem for row in read_rows(text, names) if row.problem}


def test_a_good_table_is_read_whole() -> None:
    rows = read_rows(GOOD, NAMES)
    assert not problems(GOOD)
    assert [(row.reading_pct, row.corrected_pct) for row in rows] == [
        (6.0, 7.0),
        (12.0, 13.5),
        (6.0, 6.2),
        (12.0, 12.4),
    ]
    assert [row.species_pk for row in rows] == [4, 4, None, None]
    assert [row.line for row in rows] == [2, 3, 4, 5]


@pytest.mark.parametrize(
    "text",
    [
        "Juglans nigra;6,0;7,0\nJuglans nigra;12,0;13,5",
        "Juglans nigra\t6.0 %\t7.0\nJuglans nigra\t12\t13.5",
        "Juglans nigra\t6,0\t7,0\nJuglans nigra\t12,0\t13,5",
        'MC,Meter shows,Wood\n7,6,"Walnut, black"\n13.5,12,"Walnut, black"',
        "Walnut, black,6,7\nWalnut, black,12,13.5",
        "juglans  NIGRA,6,7\n\nJuglans nigra,12,13.5\n",
        "Reading,Corrected\n6,7\n12,13.5",
        "6,7\n12,13.5",
    ],
)
def test_the_usual_forms_are_understood(text: str) -> None:
    rows = read_rows(text, NAMES)
    assert not problems(text)
    assert [(row.reading_pct, row.corrected_pct) for row in rows] == [(6.0, 7.0), (12.0, 13.5)]


@pytest.mark.parametrize(
    ("line", "sentence"),
    [
        ("walnutt,9,10", "No species here is called “walnutt”: did you mean walnut?"),
        ("balsa,9,10", "No species here is called “balsa”."),
        ("oak,9,10", "“oak” is the name of more than one species: use the botanical name."),
        ("walnut,nine,10", "“nine” is not a number: the reading is missing."),
        ("walnut,9,", "“” is not a number: the corrected value is missing."),
        ("walnut,9", "A line takes a reading and a corrected value."),
        ("walnut,400,10", "A reading lies between 0 and 300 %."),
        ("walnut,9,92", "A correction of 83.0 is more than any wood takes: look again."),
        ("walnut,6,7.5", "Line 2 gives this reading already."),
        ("walnut,9,6.9", "The moisture does not rise with the reading: line 2 gives 7 for 6."),
        ("Quercus alba,9,10", "One reading makes no curve: give two or more."),
    ],
)
def test_a_bad_row_says_what_is_wrong_and_the_others_stand(line: str, sentence: str) -> None:
    text = f"species,reading,corrected\nwalnut,6,7\nwalnut,12,13.5\n{line}\n"
    assert problems(text) == {4: sentence}


def test_a_row_that_turns_back_is_told_at_itself() -> None:
    text = "6,7\n9,6\n12,13.5"
    assert list(problems(text)) == [2]


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("  \n", "nothing to read"),
        ("species,reading\nwalnut,6", "No column is headed corrected"),
        ("species,reading,corrected\n", "no lines under them"),
        ("6\n7\n", "in two columns"),
        ("6,7\n" * 2001, "too many"),
    ],
)
def test_what_is_no_table_is_told_as_a_whole(text: str, sentence: str) -> None:
    with pytest.raises(TableProblem, match=sentence):
        read_rows(text, NAMES)


def test_the_curve_is_made_of_the_good_rows() -> None:
    assert curves(read_rows(GOOD + "walnut,x,9\n", NAMES)) == {
        "walnut": [(6.0, 7.0), (12.0, 13.5)],
        "": [(6.0, 6.2), (12.0, 12.4)],
    }
