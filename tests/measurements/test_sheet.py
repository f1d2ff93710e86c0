"""The figures of a sheet, against the worked position sheet of design/facts.md, 3 (positions: ISO 3158:1976)."""

from decimal import Decimal

import pytest

from service_center.measurements.rules import Extreme, Reading, Wind, figures_of

SHEET = {
    Wind.FULL: {
        "CH": ("4.0", "285", "0.2"), "CB": ("5.0", "282", "0.2"), "3H": ("-1.0", "258", "0.4"),
        "6H": ("1.5", "255", "0.3"), "9H": ("-3.0", "252", "0.4"), "12H": ("0.5", "256", "0.5"),
    },
    Wind.AFTER_24H: {
        "CH": ("1.0", "245", "0.3"), "CB": ("2.5", "243", "0.3"), "3H": ("-6.0", "222", "0.5"),
        "6H": ("-3.0", "220", "0.4"), "9H": ("-8.0", "217", "0.5"), "12H": ("-4.5", "221", "0.6"),
    },
}  # fmt: skip
THREE = ("CH", "9H", "6H")
FIVE = ("6H", "3H", "9H", "CB", "CH")
SIX = (*FIVE, "12H")


def sheet(positions, winds=(Wind.FULL, Wind.AFTER_24H)):
    return [Reading(position, wind, *map(Decimal, SHEET[wind][position])) for wind in winds for position in positions]


@pytest.mark.parametrize(
    ("positions", "mean", "delta", "mean_24h", "delta_24h", "isochronism"),
    [
        (THREE, "0.8333", "7.0", "-3.3333", "9.0", "-4.1667"),
        (FIVE, "1.3000", "8.0", "-2.7000", "10.5", "-4.0000"),
        (SIX, "1.1667", "8.0", "-3.0000", "10.5", "-4.1667"),
    ],
)
def test_the_worked_sheet_gives_the_published_figures(positions, mean, delta, mean_24h, delta_24h, isochronism):
    figures = figures_of(sheet(positions))
    full, later = figures.winds[Wind.FULL], figures.winds[Wind.AFTER_24H]
    to_four = Decimal("0.0001")
    assert full.mean_rate.quantize(to_four) == Decimal(mean)
    assert full.delta == Decimal(delta)
    assert later.mean_rate.quantize(to_four) == Decimal(mean_24h)
    assert later.delta == Decimal(delta_24h)
    assert figures.isochronism.quantize(to_four) == Decimal(isochronism)


def test_flat_and_upright_rates_are_compared_over_all_of_them():
    full = figures_of(sheet(FIVE)).winds[Wind.FULL]
    assert full.horizontal_minus_vertical.quantize(Decimal("0.0001")) == Decimal("5.3333")


def test_the_lowest_amplitude_and_the_highest_beat_error_name_their_position():
    figures = figures_of(sheet(SIX))
    assert figures.winds[Wind.FULL].lowest_amplitude == Extreme("9H", Decimal(252))
    assert figures.winds[Wind.FULL].highest_beat_error == Extreme("12H", Decimal("0.5"))
    assert figures.winds[Wind.FULL].fastest == Extreme("CB", Decimal("5.0"))
    assert figures.winds[Wind.FULL].slowest == Extreme("9H", Decimal("-3.0"))
    assert figures.amplitude_drop["CH"] == 40
    assert figures.amplitude_drop["9H"] == 35


def test_what_a_sheet_cannot_give_is_left_open():
    one = figures_of(sheet(["CH"], winds=[Wind.FULL]))
    full = one.winds[Wind.FULL]
    assert full.mean_rate == 4
    assert full.delta is None
    assert full.horizontal_minus_vertical is None
    assert one.isochronism is None
    assert one.amplitude_drop == {}
    assert one.winds[Wind.AFTER_24H].positions == ()
    assert one.winds[Wind.AFTER_24H].mean_rate is None


def test_isochronism_compares_the_same_positions():
    later_in_one_position = [*sheet(SIX, [Wind.FULL]), *sheet(["CH"], [Wind.AFTER_24H])]
    assert figures_of(later_in_one_position).isochronism == Decimal("-3.0")


def test_positions_come_in_the_order_of_the_standard_whatever_order_they_were_read_in():
    assert figures_of(sheet(["9H", "CH", "3H"])).winds[Wind.FULL].positions == ("CH", "3H", "9H")
