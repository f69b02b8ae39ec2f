"""The treatment a core log is held against, as it is published."""

from inventory.wood import measure
from inventory.wood.heat import HOLD_MINUTES, HOLD_TEMP_C, held_through


def test_the_treatment_is_that_of_ispm_15() -> None:
    """*ISPM 15, Regulation of wood packaging material in international trade* (International Plant
    Protection Convention), treatment HT: 56 °C for 30 continuous minutes through the profile."""
    assert (HOLD_TEMP_C, HOLD_MINUTES) == (56.0, 30.0)


def test_in_degrees_fahrenheit_it_is_the_133_of_the_working_rule() -> None:
    """133 °F at the core: the usual rule against insects in lumber (common practice)."""
    assert measure.format_temperature(HOLD_TEMP_C, "imperial") == "133\N{NO-BREAK SPACE}°F"


def test_a_core_at_133_degrees_fahrenheit_for_half_an_hour_is_held() -> None:
    core_c = (133.0 - 32.0) / 1.8
    log = [(minute * 60.0, core_c) for minute in range(31)]
    assert held_through({"core": log}).is_held
