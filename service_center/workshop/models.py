"""Work orders and what belongs to them."""

from service_center.workshop.orders.models import (
    EstimateAnswer,
    OrderEstimate,
    OrderFinding,
    OrderMove,
    OrderOperation,
    StandardTime,
    TimeSpent,
    WorkOrder,
)

__all__ = [
    "EstimateAnswer",
    "OrderEstimate",
    "OrderFinding",
    "OrderMove",
    "OrderOperation",
    "StandardTime",
    "TimeSpent",
    "WorkOrder",
]
