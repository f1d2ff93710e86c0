"""The time-to-answer curve and its range against published values (design/facts.md, 10)."""

import pytest
from lifelines import KaplanMeierFitter
from lifelines.datasets import load_leukemia

from service_center.planning.rules.arrivals import likely_range
from service_center.planning.rules.survival import Sent, kaplan_meier

POISSON_NINE_IN_TEN = [(2, 4), (4, 7), (6.5, 10), (10, 14), (20, 26)]  # Poisson quantiles at 0.90

# Freireich et al. 1963, Blood 21:699-716: weeks of remission under 6-MP; a star: still in remission when last seen.
REMISSION = "6 6 6 6* 7 9* 10 10* 11* 13 16 17* 19* 20* 22 23 25* 32* 32* 34* 35*"
PUBLISHED = [  # time, at risk, events, survival, Greenwood's standard error
    (6, 21, 3, 0.8571, 0.0764),
    (7, 17, 1, 0.8067, 0.0869),
    (10, 15, 1, 0.7529, 0.0963),
    (13, 12, 1, 0.6902, 0.1068),
    (16, 11, 1, 0.6275, 0.1141),
    (22, 7, 1, 0.5378, 0.1282),
    (23, 6, 1, 0.4482, 0.1346),
]
PLACEBO = "1 1 2 2 3 4 4 5 5 8 8 8 8 11 11 12 12 15 17 22 23"
PLACEBO_PUBLISHED = {1: 0.9048, 2: 0.8095, 5: 0.5714, 8: 0.3810, 12: 0.1905, 17: 0.0952, 22: 0.0476, 23: 0.0}


def sent(text: str) -> list[Sent]:
    return [Sent(int(word.rstrip("*")), not word.endswith("*"), 1) for word in text.split()]


def test_the_remission_data_give_their_published_curve() -> None:
    found = kaplan_meier(sent(REMISSION))
    rows = zip(found.times, found.at_risk, found.events, found.survival, found.standard_error, strict=True)
    assert [(t, n, d, round(s, 4), round(e, 4)) for t, n, d, s, e in rows] == PUBLISHED


def test_without_censoring_the_curve_counts_who_is_left() -> None:
    found = kaplan_meier(sent(PLACEBO))
    curve = dict(zip(found.times.tolist(), found.survival.tolist(), strict=True))
    assert {time: round(curve[time], 4) for time in PLACEBO_PUBLISHED} == PLACEBO_PUBLISHED


def test_lifelines_has_the_same_data_and_the_same_curve() -> None:
    """An outside reference: its own copy of the data, its own estimator."""
    data = load_leukemia()
    for group, text in ((0, REMISSION), (1, PLACEBO)):
        rows = data[data["Rx"] == group]
        weeks = [int(word.rstrip("*")) for word in text.split()]
        assert sorted(rows["t"]) == sorted(weeks)
        fitted = KaplanMeierFitter().fit(rows["t"], rows["status"])
        found = kaplan_meier(sent(text))
        assert found.survival == pytest.approx(fitted.survival_function_at_times(found.times).to_numpy())
        table = fitted.event_table.loc[found.times.astype(float)]
        assert found.at_risk.tolist() == table["at_risk"].tolist()
        assert found.events.tolist() == table["observed"].tolist()


@pytest.mark.parametrize(("mean", "highest"), POISSON_NINE_IN_TEN)
def test_nine_weeks_in_ten_bring_no_more_than_the_published_count(mean: float, highest: int) -> None:
    low, high = likely_range([mean])
    assert high[0] == highest
    assert low[0] <= mean <= high[0]
