"""Who pays: what the house's guarantees cover on a day. Nothing here knows a database or a clock.

`cover` is the door: the facts of one piece and a day in, one `Decision` out.
"""

from service_center.guarantee.rules.cover import cover
from service_center.guarantee.rules.decision import Cover, CoveredBy, Decision, Reason, from_record
from service_center.guarantee.rules.enrolment import Enrolment, EnrolmentState, enrolment_on
from service_center.guarantee.rules.findings import HOUSE_TABLE, Finding, FindingDecision, Row, Table, decide
from service_center.guarantee.rules.terms import HOUSE_TERMS, DatedTerms, Terms, Work, terms_on

__all__ = [
    "HOUSE_TABLE",
    "HOUSE_TERMS",
    "Cover",
    "CoveredBy",
    "DatedTerms",
    "Decision",
    "Enrolment",
    "EnrolmentState",
    "Finding",
    "FindingDecision",
    "Reason",
    "Row",
    "Table",
    "Terms",
    "Work",
    "cover",
    "decide",
    "enrolment_on",
    "from_record",
    "terms_on",
]
