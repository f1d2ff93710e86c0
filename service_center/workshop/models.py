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
    TimeTakenBack,
    WorkOrder,
)
from service_center.workshop.parts.models import Part, StockMove
from service_center.workshop.parts.ordered.models import OnOrder, OrderedPart, OrderedWord, PartsDelivery, PartsOrder

__all__ = [
    "Absence",
    "EstimateAnswer",
    "HolidayYear",
    "OnOrder",
    "OrderEstimate",
    "OrderFinding",
    "OrderMove",
    "OrderOperation",
    "OrderedPart",
    "OrderedWord",
    "Part",
    "PartsDelivery",
    "PartsOrder",
    "PublicHoliday",
    "SkillShare",
    "StandardTime",
    "StockMove",
    "TimeSpent",
    "TimeTakenBack",
    "Watchmaker",
    "WeekdayMinutes",
    "WorkOrder",
    "WorkshopClosure",
    "WorkshopPlace",
]
