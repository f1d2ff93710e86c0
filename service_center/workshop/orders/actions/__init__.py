"""What is done with a work order."""

from service_center.workshop.orders.actions.estimating import (
    AnsweredBefore,
    EstimateLine,
    NotAsked,
    OutOfDate,
    answer_estimate,
    write_estimate,
)
from service_center.workshop.orders.actions.moving import (
    NotReady,
    bring_to_boutique,
    close_order,
    locked_order,
    move_order,
)
from service_center.workshop.orders.actions.opening import open_order
from service_center.workshop.orders.actions.taking_back import hand_over, take_back_operation
from service_center.workshop.orders.actions.working import (
    AlreadyFinished,
    NotOnTheBench,
    add_finding,
    add_operation,
    change_kind,
    finish_operation,
    leave_out_operation,
    take_to_bench,
)

__all__ = [
    "AlreadyFinished",
    "AnsweredBefore",
    "EstimateLine",
    "NotAsked",
    "NotOnTheBench",
    "NotReady",
    "OutOfDate",
    "add_finding",
    "add_operation",
    "answer_estimate",
    "bring_to_boutique",
    "change_kind",
    "close_order",
    "finish_operation",
    "hand_over",
    "leave_out_operation",
    "locked_order",
    "move_order",
    "open_order",
    "take_back_operation",
    "take_to_bench",
    "write_estimate",
]
