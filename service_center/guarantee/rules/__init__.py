"""Who pays: what the house's guarantees cover on a day. Nothing here knows a database or a clock.

`cover` is the door: the facts of one piece and a day in, one `Decision` out.
"""

from service_center.guarantee.rules.cover import cover
from service_center.guarantee.rules.decision import Cover, CoveredBy, Decision, Reason, from_record
from service_center.guarantee.rules.enrolment import Enrolment, EnrolmentState, enrolment_on
from service_center.guarantee.rules.terms import HOUSE_TERMS, Terms, Work

__all__ = [
    "HOUSE_TERMS",
    "Cover",
    "CoveredBy",
    "Decision",
    "Enrolment",
    "EnrolmentState",
    "Reason",
    "Terms",
    "Work",
    "cover",
    "enrolment_on",
    "from_record",
]
