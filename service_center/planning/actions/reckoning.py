"""Asking the worker to work something out, and doing it. The row is the memory; the broker only rings."""

import logging
from collections.abc import Mapping
from datetime import date, datetime
from math import isclose
from typing import Any

from django.db import IntegrityError, transaction

from service_center.access.models import Staff
from service_center.letters.asked_for import claim
from service_center.letters.doorbell import ring_after_commit
from service_center.planning.actions.levelling import NotAsSeen, Proposed, accept_levelling, look_at_levelling
from service_center.planning.models import Reckoning
from service_center.planning.queries.what_if import what_if_of
from service_center.planning.rules.kept_problem import keep, take_up
from service_center.planning.rules.picture import Out, picture_of
from service_center.planning.rules.programme import NotOptimal
from service_center.planning.rules.proposing import propose
from service_center.planning.rules.weeks import monday_of
from service_center.planning.rules.what_if import with_changes
from service_center.planning.rules.words import Outcome, ReckoningSort

logger = logging.getLogger(__name__)

WORK_OUT = "planning.work_out"
# Pictures are conclusions: of each horizon the latest few are kept, and of them one with its problem.
PICTURES_KEPT = 5


def ask_for_picture(*, as_of: date, weeks: int, at: datetime, by: Staff | None) -> Reckoning:
    """Ask for the weeks as they are planned, with the proposal. One that is under way is not asked for twice."""
    under_way = Reckoning.objects.filter(sort=ReckoningSort.PICTURE, weeks=weeks, finished_at=None)
    try:
        with transaction.atomic():
            asked = under_way.first() or _ask(ReckoningSort.PICTURE, as_of=as_of, weeks=weeks, at=at, by=by)
    except IntegrityError:  # somebody asked at the same moment
        return under_way.get()
    return asked


def ask_to_accept(*, as_of: date, weeks: int, seen: float, at: datetime, by: Staff | None) -> Reckoning:
    """Ask that the proposal with the objective that was seen becomes the plan."""
    return _ask(ReckoningSort.ACCEPT, as_of=as_of, weeks=weeks, at=at, by=by, about={"objective": seen})


def ask_what_if(*, as_of: date, weeks: int, about: Mapping[str, Any], at: datetime, by: Staff | None) -> Reckoning:
    """Ask what the weeks would be like with the changes (see `queries.what_if`). Nothing but the question is written."""
    return _ask(ReckoningSort.WHAT_IF, as_of=as_of, weeks=weeks, at=at, by=by, about=dict(about))


def _ask(
    sort: ReckoningSort, *, as_of: date, weeks: int, at: datetime, by: Staff | None, about: dict[str, Any] | None = None
) -> Reckoning:
    asked = Reckoning.objects.create(
        sort=sort.value, as_of=as_of, weeks=weeks, asked_at=at, asked_by=by, about=about or {}
    )
    ring_after_commit(WORK_OUT)
    return asked


def work_out(*, now: datetime) -> int:
    """Work out what is asked for, first come first served; how many. Workers beside each other take one each."""
    done = 0
    while (one := claim(Reckoning.objects.all(), now, outcome=Outcome.FAILED)) is not None:
        try:
            found = _work_out(one, now)
        except NotOptimal as fault:
            found = {"outcome": Outcome.NOT_PROVED, "why": str(fault)[:300]}
        except NotAsSeen:
            found = {"outcome": Outcome.NOT_AS_SEEN}
            # The proposal that is shown is the old one: without a new one it could never be accepted.
            ask_for_picture(as_of=one.as_of, weeks=one.weeks, at=now, by=one.asked_by)
        except Exception as error:  # whatever it was: the page says so, and the next one is worked out
            logger.exception("reckoning %s", one.pk)
            found = {"outcome": Outcome.FAILED, "why": type(error).__name__}
        _finish(one, found, now)
        done += 1
    return done


def _finish(one: Reckoning, found: dict[str, Any], now: datetime) -> None:
    Reckoning.objects.filter(pk=one.pk, finished_at=None).update(finished_at=now, **found)
    if one.sort != ReckoningSort.PICTURE.value:
        return
    alike = Reckoning.objects.filter(sort=ReckoningSort.PICTURE, weeks=one.weeks, pk__lt=one.pk)
    if found["outcome"] is Outcome.DONE:
        alike.exclude(problem=None).update(problem=None)
    for pk in alike.exclude(finished_at=None).order_by("-pk").values_list("pk", flat=True)[PICTURES_KEPT:]:
        Reckoning.objects.filter(pk=pk).delete()


def _work_out(one: Reckoning, now: datetime) -> dict[str, Any]:
    if one.sort == ReckoningSort.ACCEPT.value:
        return _accept(one, now)
    if one.sort == ReckoningSort.WHAT_IF.value:
        return _what_if(one)
    proposed = look_at_levelling(as_of=one.as_of, weeks=one.weeks)
    out = _out(proposed)
    found = proposed.levelling
    picture = picture_of(
        found.problem, proposed.proposal, out, first=found.horizon.first, no_letters=found.no_letters,
        no_skill=found.no_skill, curves=found.curves,
    )  # fmt: skip
    kept = keep(found.problem, out, found.accepted_gap)
    return {"outcome": Outcome.DONE, "picture": picture.as_json(), "problem": kept}


def _out(proposed: Proposed) -> Out:
    found = proposed.levelling
    return Out(found.promised, found.from_letters_out, found.overhauls_out, found.letters)


def _accept(one: Reckoning, now: datetime) -> dict[str, Any]:
    seen = one.about["objective"]
    _proposed, changed = accept_levelling(
        as_of=one.as_of, weeks=one.weeks, at=now, by=one.asked_by,
        only_if=lambda found: isclose(found.proposal.objective, seen, rel_tol=1e-6, abs_tol=1e-6),
    )  # fmt: skip
    ask_for_picture(as_of=one.as_of, weeks=one.weeks, at=now, by=one.asked_by)
    return {"outcome": Outcome.DONE, "about": {**one.about, "changed": changed}}


def _what_if(one: Reckoning) -> dict[str, Any]:
    base = Reckoning.objects.filter(
        sort=ReckoningSort.PICTURE, weeks=one.weeks, outcome=Outcome.DONE, problem__isnull=False
    ).latest("pk")
    problem, out, gap = take_up(base.problem or {})
    first = monday_of(base.as_of)
    changed, changed_out = with_changes(problem, out, what_if_of(one.about, first, one.weeks))
    picture = picture_of(changed, propose(changed, gap), changed_out, first=first)
    return {
        "outcome": Outcome.DONE,
        "picture": picture.as_json(),
        "about": {**one.about, "beside": _sums(base.picture)},
    }


def _sums(picture: Any) -> dict[str, Any]:
    return {"before": picture["before"], "after": picture["after"]}
