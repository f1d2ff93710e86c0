"""Pictures of a sheet: every mark where its number says."""

from decimal import Decimal
from math import hypot

from hypothesis import given
from hypothesis import strategies as st

from service_center.measurements.rules import POSITIONS, VERTICAL
from service_center.measurements.rules.pictures import CENTRE, REACH, ZERO, on_the_dial, pairs


def test_a_gaining_position_stands_outside_the_circle_at_the_hour_that_points_up():
    picture = on_the_dial({"12H": Decimal(5), "3H": Decimal(-5), "CH": Decimal(5)}, {})
    top, right, lying = picture.first
    assert (top.x, top.y) == (CENTRE, CENTRE - ZERO - REACH)
    assert (right.x, right.y) == (CENTRE + ZERO - REACH, CENTRE)
    assert lying.y == CENTRE - REACH
    assert picture.outlines == ("", "")


rates = st.dictionaries(st.sampled_from(POSITIONS), st.decimals(-1000, 1000, places=1))


@given(rates, rates)
def test_marks_keep_the_order_of_their_rates_and_stay_in_the_picture(first, second):
    picture = on_the_dial(first, second)
    assert len(picture.first) + len(picture.second) == len(first) + len(second)
    upright = [spot for spot in [*picture.first, *picture.second] if spot.position in VERTICAL]
    away = {id(spot): hypot(spot.x - CENTRE, spot.y - CENTRE) for spot in upright}
    for one in upright:
        assert ZERO - REACH - 0.1 <= away[id(one)] <= ZERO + REACH + 0.1
        for other in upright:
            if one.value - other.value > 100:
                assert away[id(one)] > away[id(other)]


degrees = st.dictionaries(st.sampled_from(POSITIONS), st.decimals(0, 360, places=0))


@given(degrees, degrees)
def test_amplitudes_stand_within_their_scale_in_the_order_of_the_standard(first, second):
    picture = pairs(first, second, step=10, bounds=[Decimal(240)])
    assert [row.position for row in picture.rows] == [one for one in POSITIONS if one in first or one in second]
    for row in picture.rows:
        for spot in (row.first, row.second):
            assert spot is None or picture.ticks[0].x - 0.1 <= spot.x <= picture.width - 29.9
    assert len(picture.ticks) <= 10


def test_nothing_read_draws_nothing():
    assert pairs({}, {}, step=10).rows == ()
    assert on_the_dial({}, {}).first == ()
