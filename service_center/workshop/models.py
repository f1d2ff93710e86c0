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
from service_center.workshop.parts.models import Part, StockMove

__all__ = [
    "EstimateAnswer",
    "OrderEstimate",
    "OrderFinding",
    "OrderMove",
    "OrderOperation",
    "Part",
    "StandardTime",
    "StockMove",
    "TimeSpent",
    "WorkOrder",
]
