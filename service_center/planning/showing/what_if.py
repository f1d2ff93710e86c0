"""A what-if, said in words."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from django.utils.formats import date_format
from django.utils.text import get_text_list
from django.utils.translation import gettext as _

from service_center.planning.rules.weeks import monday_of, week_name
from service_center.planning.wording import SKILLS


def said_of(about: Mapping[str, Any]) -> str:
    """What would be different, in one sentence."""
    parts = []
    if about.get("skills"):
        skills = [str(SKILLS[skill]).lower() for skill in about["skills"]]
        parts.append(
            _("another watchmaker (%(skills)s; %(hours)s hours a week) from %(day)s")
            % {
                "skills": get_text_list(skills, _("and")),
                "hours": f"{about['hours_a_week']:g}",
                "day": date_format(date.fromisoformat(about["from"]), "j F Y"),
            }
        )
    if about.get("closed"):
        week = week_name(monday_of(date.fromisoformat(about["closed"])))
        parts.append(_("week %(week)s closed") % {"week": week})
    percent = about.get("answers_percent") or 100
    if percent != 100:
        parts.append(_("%(percent)s %% of today's answers") % {"percent": percent})
    said = get_text_list(parts, _("and"))
    return said[:1].upper() + said[1:]
