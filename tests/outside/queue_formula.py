"""The published formula of a queue before several servers, M/M/c: what the simulation is held against.

Arrivals at random, exponential service, first come first served. Source: Erlang (1917), "Solution of some problems in
the theory of probabilities of significance in automatic telephone exchanges", known as Erlang's C formula.
"""


def chance_to_wait(load: float, servers: int) -> float:
    """The share of arrivals that wait. `load`: arrivals in the time of one service (erlang).

    Raises ValueError where the load is not below the servers: the queue then grows without end and has no mean.
    """
    if servers < 1 or not 0 <= load < servers:
        raise ValueError(f"a load of {load} needs more than {load} servers, not {servers}")
    # Erlang's B by its recursion (no factorials, so that many servers do not overflow), then C from it.
    blocked = 1.0
    for number in range(1, servers + 1):
        blocked = load * blocked / (number + load * blocked)
    return blocked / (1 - load / servers * (1 - blocked))


def mean_wait(load: float, servers: int, service: float) -> float:
    """The mean wait of all arrivals before their service, in the unit of the mean `service` time. Raises as above."""
    return chance_to_wait(load, servers) * service / (servers - load)
