"""Work orders, parts, benches, and what belongs to them."""

from service_center.workshop.calendars.models import (
    Absence,
    HolidayYear,
    PublicHoliday,
    SkillShare,
    Watchmaker,
    WeekdayMinutes,
    WorkshopClosure,
    WorkshopPlace,
)
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
    "Absence",
    "EstimateAnswer",
    "HolidayYear",
    "OrderEstimate",
    "OrderFinding",
    "OrderMove",
    "OrderOperation",
    "Part",
    "PublicHoliday",
    "SkillShare",
    "StandardTime",
    "StockMove",
    "TimeSpent",
    "Watchmaker",
    "WeekdayMinutes",
    "WorkOrder",
    "WorkshopClosure",
    "WorkshopPlace",
]
