"""How long a realistic week takes to plan, and how good the plan is: 12 watchmakers, 200 open orders, 5 days.

    python -m tests.bench.week_plan [work [seed ...]]

Prints one line a week: seconds by the clock and of the processor, the plain schedule's cost, the plan's, the bound.
"""

import sys
import time

from service_center.planning.rules.week_plan.planning import plan_week
from service_center.planning.rules.week_plan.solver import WORK
from tests.planning.week_plan.weeks import realistic


def main() -> None:
    work = float(sys.argv[1]) if len(sys.argv) > 1 else WORK
    for seed in [int(one) for one in sys.argv[2:]] or (7, 8, 9):
        clock, processor = time.perf_counter(), time.process_time()
        found = plan_week(realistic(seed=seed), work=work)
        print(
            f"seed {seed}: {time.perf_counter() - clock:.1f} s ({time.process_time() - processor:.1f} s processor), "
            f"{len(found.plan)} stretches, plain {found.plain.total}, plan {found.cost.total} {found.cost}, "
            f"bound {found.bound}, gap {100 * found.gap:.1f} %, no plan under {found.days_bound} days late"
        )


if __name__ == "__main__":
    main()
