"""Waits before several servers (M/M/c): the formula against published values, the simulation against the formula."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service_center.book.rules import Complexity
from service_center.planning.rules.promising.hours import Hours
from service_center.planning.rules.promising.queue import Jobs, ready_times
from service_center.planning.rules.promising.simulation import drawn
from service_center.planning.rules.promising.values import DAY, Order, Turn
from tests.outside.published import rows
from tests.outside.queue_formula import chance_to_wait, mean_wait

CASES = rows("queue_waits")
SERVICE = 60.0  # minutes


@pytest.mark.parametrize("case", CASES, ids=lambda row: f"{row['load']} before {row['servers']}")
def test_the_formula_gives_the_published_values(case: dict[str, str]) -> None:
    load, servers = float(case["load"]), int(case["servers"])
    assert chance_to_wait(load, servers) == pytest.approx(float(case["chance_to_wait"]), abs=5e-5)
    if case["mean_wait"]:
        found = mean_wait(load, servers, float(case["service"]))
        assert found == pytest.approx(float(case["mean_wait"]), abs=5e-4)
    if case["mean_queue"]:  # Little's law: those who wait are the arrivals in a wait
        assert load * mean_wait(load, servers, 1.0) == pytest.approx(float(case["mean_queue"]), abs=5e-5)


@given(load=st.floats(0.01, 40), servers=st.integers(1, 50))
def test_the_formula_is_the_sum_it_is_written_as(load: float, servers: int) -> None:
    if load >= servers:
        with pytest.raises(ValueError, match="servers"):
            chance_to_wait(load, servers)
        return
    last = load**servers / math.factorial(servers) * servers / (servers - load)
    written = last / (sum(load**one / math.factorial(one) for one in range(servers)) + last)
    assert chance_to_wait(load, servers) == pytest.approx(written, rel=1e-9)


@pytest.mark.parametrize(("load", "servers"), [(3, 3), (3.5, 3), (-1, 3), (0.5, 0), (float("nan"), 2)])
def test_a_load_that_the_servers_cannot_bear_is_refused(load: float, servers: int) -> None:
    with pytest.raises(ValueError, match="servers"):
        mean_wait(load, servers, SERVICE)


@pytest.mark.parametrize(
    ("load", "servers", "orders", "first"),
    [(0.5, 1, 400, 100), (2.0, 3, 500, 150), (3.2, 4, 800, 350), (4.0, 6, 400, 100)],
)
def test_orders_that_come_at_random_wait_as_the_formula_says(
    load: float, servers: int, orders: int, first: int
) -> None:
    """The queue that quotes use, on benches that never close; the first orders found it empty and do not count."""
    replications = 300
    gaps = np.random.default_rng(2026).exponential(SERVICE / load, (replications, orders))
    arrives = gaps.cumsum(axis=1)
    work = np.stack(
        [drawn(Order(key, Complexity.SIMPLE, (Turn(SERVICE, SERVICE),)), replications) for key in range(orders)], axis=1
    )
    jobs = Jobs(
        free=arrives,
        work=work,
        mean=np.full((orders, 1), SERVICE),
        wait=np.zeros((orders, 1)),
        turns=np.ones(orders, dtype=np.intp),
        may=np.ones((orders, servers), dtype=np.bool_),
    )
    days = int(2 * arrives.max() / DAY) + 10
    always = Hours([np.full(days, DAY)] * servers)
    waits = ready_times(jobs, always) - arrives - work[:, :, 0]
    assert waits.min() > -1e-6
    by_replication = waits[:, first:].mean(axis=1)
    error = by_replication.std(ddof=1) / math.sqrt(replications)
    expected = mean_wait(load, servers, SERVICE)
    assert abs(by_replication.mean() - expected) < 3 * error
    assert error < 0.06 * expected  # an agreement that says something
    waiting = (waits[:, first:] > 1e-6).mean(axis=1)
    assert abs(waiting.mean() - chance_to_wait(load, servers)) < 3 * waiting.std(ddof=1) / math.sqrt(replications)
