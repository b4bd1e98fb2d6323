"""Quantities as people write them."""

import pytest

from logger.config.quantity import (
    AREA,
    FREQUENCY,
    GAUGE_POINT,
    LENGTH,
    PRESSURE,
    TEMPERATURE,
    Kind,
    convert,
    parse_difference,
    parse_quantity,
)


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("180 mm", LENGTH, 180.0),
        ("7.1 in", LENGTH, 180.34),
        (" 18cm ", LENGTH, 180.0),
        ("12 bar", PRESSURE, 12.0),
        ("1.2 MPa", PRESSURE, 12.0),
        ("0.15 N/mm2", PRESSURE, 1.5),
        ("150 psi", PRESSURE, 10.34213594),
        ("0 bar", PRESSURE, 0.0),
        ("-1 bar", GAUGE_POINT, -1.0),
        ("6.29 cm2", AREA, 629.0),
        ("5 in2", AREA, 3225.8),
        ("20 degC", TEMPERATURE, 20.0),
        ("-5 °C", TEMPERATURE, -5.0),
        ("104 degF", TEMPERATURE, 40.0),
        ("10 Hz", FREQUENCY, 10.0),
    ],
)
def test_text_with_a_unit(text: str, kind: Kind, value: float) -> None:
    assert parse_quantity(text, kind) == pytest.approx(value, abs=1e-8)


def test_104_degf_is_exactly_the_edge_of_40_degc() -> None:
    assert parse_quantity("104 degF", TEMPERATURE) == 40.0


@pytest.mark.parametrize(
    ("text", "kind", "message"),
    [
        ("180 bar", LENGTH, '"180 bar" is a pressure; a length like "180 mm" is needed'),
        ("12 mm", PRESSURE, '"12 mm" is a length; a pressure like "12 bar" is needed'),
        ("6.29 cm", AREA, '"6.29 cm" is a length; an area like "6.29 cm2" is needed'),
        ("180", LENGTH, '"180" has no unit; a length like "180 mm" is needed'),
        (180, LENGTH, '180 has no unit; a length like "180 mm" is needed'),
        (True, LENGTH, 'True has no unit; a length like "180 mm" is needed'),
        ("", LENGTH, '"" is not a number with a unit; a length like "180 mm" is needed'),
        ("1,5 bar", PRESSURE, '"1,5 bar" is not a number with a unit; a pressure like "12 bar" is needed'),
        ("nan bar", PRESSURE, '"nan bar" is not a number with a unit; a pressure like "12 bar" is needed'),
        ("1e999 mm", LENGTH, '"1e999 mm" is not a finite number; a length like "180 mm" is needed'),
        ("3 foo", LENGTH, '"3 foo" has a unit that is not known; a length like "180 mm" is needed'),
        ("-3 mm", LENGTH, '"-3 mm" cannot be: more than 0 mm is needed'),
        ("0 mm", LENGTH, '"0 mm" cannot be: more than 0 mm is needed'),
        ("-1 bar", PRESSURE, '"-1 bar" cannot be: at least 0 bar is needed'),
        ("-300 degC", TEMPERATURE, '"-300 degC" cannot be: at least -273.15 degC is needed'),
    ],
)
def test_what_is_wrong_is_said_in_one_line(text: object, kind: Kind, message: str) -> None:
    with pytest.raises(ValueError) as wrong:  # noqa: PT011 - the whole message is compared
        parse_quantity(text, kind)
    assert str(wrong.value) == message


@pytest.mark.parametrize(
    "text", ["3 mm mm", "3 mm;import os", '7"', "3 mm**9999999", "3 __class__", "5 a" * 30]
)
def test_strange_units_are_refused(text: str) -> None:
    with pytest.raises(ValueError, match="is needed"):
        parse_quantity(text, LENGTH)


def test_a_difference_of_temperature_has_no_zero_point() -> None:
    assert parse_difference("0.9 degF", TEMPERATURE) == pytest.approx(0.5)
    assert parse_difference("1.5 degC", TEMPERATURE) == pytest.approx(1.5)


@pytest.mark.parametrize(("unit", "other"), [("bar", "psi"), ("mm", "in"), ("degC", "degF"), ("MPa", "bar")])
def test_output_units_come_back(unit: str, other: str) -> None:
    assert convert(convert(12.5, unit, other), other, unit) == pytest.approx(12.5, rel=1e-12)
