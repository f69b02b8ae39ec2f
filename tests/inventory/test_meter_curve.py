"""A meter's own table drawn: lines where the corrections are, letters that do not collide."""

from inventory.meter_curve import FOOT, HEIGHT, LEFT, MOST_DRAWN, RIGHT, TOP, WIDTH, curve

WALNUT = [(12.0, 13.0), (6.0, 7.0), (24.0, 23.0)]


def test_a_line_runs_where_the_correction_is() -> None:
    found = curve({"Walnut": WALNUT})
    assert found is not None
    places = [tuple(map(float, pair.split(","))) for pair in found.lines[0].points.split()]
    at = {tick.words: tick.at for tick in found.y_ticks}
    assert [y for _, y in places] == [at["+1"], at["+1"], at["−1"]]
    assert found.y_nothing == at["0"]
    across = {tick.words: tick.at for tick in found.x_ticks}
    assert places[1][0] == (across["10"] + across["15"]) / 2 - (across["15"] - across["10"]) / 10
    assert "Walnut +1 at 6 and −1 at 24 %" in found.words


def test_everything_lies_on_the_drawing() -> None:
    found = curve({"Walnut": WALNUT, "": [(6.0, 6.0), (300.0, 290.0)]})
    assert found is not None
    for line in found.lines:
        for pair in line.points.split():
            x, y = map(float, pair.split(","))
            assert LEFT <= x <= WIDTH - RIGHT
            assert TOP <= y <= HEIGHT - FOOT
    assert len(found.x_ticks) < 10
    assert len(found.y_ticks) < 10


def test_letters_stand_apart_and_the_rest_is_named() -> None:
    found = curve({f"Wood {n}": WALNUT for n in range(8)})
    assert found is not None
    ends = [line.y_end for line in found.lines]
    assert len(set(ends)) == MOST_DRAWN
    assert len({line.dashes for line in found.lines}) == MOST_DRAWN
    assert found.undrawn == ("Wood 6", "Wood 7")


def test_one_flat_table_is_drawn_and_none_is_not() -> None:
    assert curve({"": [(8.0, 8.0), (12.0, 12.0)]}) is not None
    assert curve({}) is None
    assert curve({"Oak": []}) is None
