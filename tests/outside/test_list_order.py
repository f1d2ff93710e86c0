"""Jobs given out in the order of a list: published lengths of the whole (Graham 1966, 1969; design/facts.md, S87 to S89)."""

import numpy as np
import pytest

from service_center.planning.rules.promising.hours import Hours
from service_center.planning.rules.promising.queue import Jobs, ready_times
from service_center.planning.rules.promising.values import DAY

PUBLISHED = [
    ([4, 5, 6, 7, 8], 2, 18),
    ([4, 5, 6, 7, 8], 3, 13),
    ([8, 7, 6, 5, 4], 2, 17),
    ([8, 7, 6, 5, 4], 3, 11),
    ([1] * 6 + [3], 3, 5),
    ([5, 5, 4, 4, 3, 3, 3], 3, 11),
    ([3, 3, 2, 2, 2], 2, 7),
]


@pytest.mark.parametrize(("jobs", "benches", "whole"), PUBLISHED)
def test_the_last_job_ends_when_it_is_published_to(jobs: list[int], benches: int, whole: int) -> None:
    work = np.array(jobs, dtype=np.float64)[:, None]
    ready = ready_times(
        Jobs(
            free=np.zeros((1, len(jobs))),
            work=work[None],
            mean=work,
            wait=np.zeros((len(jobs), 1)),
            turns=np.ones(len(jobs), dtype=np.intp),
            may=np.ones((len(jobs), benches), dtype=np.bool_),
        ),
        Hours([np.array([DAY])] * benches),
    )
    assert ready.max() == whole
