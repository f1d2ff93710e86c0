"""Handing over the two mails about another e-mail address: claimed, marked at the dot, settled, as letters are."""

import logging
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.conf import settings
from django.db import transaction
from django.db.models import Q
from django.db.models.functions import Now

from service_center.letters.models import StoppedAddress
from service_center.letters.queries.held_rounds import rounds_are_held_after_restore
from service_center.letters.rules.handing import pause_after, verdict
from service_center.letters.rules.links import SECRET_BYTES
from service_center.letters.rules.restored import AFTER_RESTORE
from service_center.letters.rules.words import LetterState
from service_center.letters.smtp import Line, MailServer, NoLine, on_the_wire
from service_center.owner_pages.models import Notice
from service_center.owner_pages.notice_mail import as_mail
from service_center.owner_pages.queries import trusted_changes
from service_center.owner_pages.rules import CONFIRM, NoticeKind, hash_secret

logger = logging.getLogger(__name__)

AT_MOST = 50  # a run; what is left waits for the next


@dataclass(frozen=True, slots=True)
class Claim:
    """One notice in this process's hands, and the secret that its link carries."""

    notice: Notice
    to: str
    secret: str


def hold_notices() -> None:
    """After a backup was brought back: what it has as waiting may be out. It stays until letters go on."""
    waits = Q(state__in=[LetterState.WAITING, LetterState.HANDING_OVER])
    Notice.objects.filter(waits).update(state=LetterState.HELD, lease_until=None, reply=AFTER_RESTORE)
    Notice.objects.filter(state=LetterState.AT_THE_DOT).update(
        state=LetterState.IN_DOUBT, lease_until=None, reply=AFTER_RESTORE
    )


def send_notices(*, now: datetime) -> int:
    """Hand over what waits. Returns how many a mail server took. Never called inside a transaction."""
    _put_back_the_abandoned()
    _let_go_with_the_letters()
    ready = Notice.objects.filter(state=LetterState.WAITING, not_before__lte=Now())
    if not settings.MAIL_CONFIGURED or not ready.exists():
        return 0
    try:
        line = Line(MailServer.of_the_house())
    except NoLine as trouble:
        logger.warning("Notices wait: %s", trouble)
        return 0
    sent = 0
    for _number in range(AT_MOST):
        taken = _claim(now)
        if taken is None:
            break
        if taken.to:
            sent += _hand_over(line, taken) is LetterState.SENT
        if line.broken:
            break
    line.close()
    return sent


def _put_back_the_abandoned() -> None:
    """Without the dot no server may deliver: they wait again. At the dot nobody knows: they are in doubt."""
    over = Notice.objects.filter(lease_until__lt=Now())
    over.filter(state=LetterState.HANDING_OVER).update(state=LetterState.WAITING, lease_until=None)
    over.filter(state=LetterState.AT_THE_DOT).update(state=LetterState.IN_DOUBT, lease_until=None)


def _let_go_with_the_letters() -> None:
    """What a restore held goes when the desk has said that letters go on: nobody is asked twice."""
    held = Notice.objects.filter(state=LetterState.HELD, reply=AFTER_RESTORE)
    if held.exists() and not rounds_are_held_after_restore():
        held.update(state=LetterState.WAITING, reply="")


@transaction.atomic
def _claim(now: datetime) -> Claim | None:
    """Take the next one. Empty `to`: it was ended, since nobody waits for it any more, or nobody may write there."""
    ready = Notice.objects.filter(state=LetterState.WAITING, not_before__lte=Now()).order_by("not_before", "pk")
    notice = (
        ready.select_for_update(skip_locked=True, no_key=True, of=("self",)).select_related("change__owner").first()
    )
    if notice is None:
        return None
    change, confirms = notice.change, notice.kind == NoticeKind.CONFIRM
    to = change.email if confirms else change.before
    over = confirms and (
        change.confirmed_at
        or change.withdrawn_at
        or change.expires_at <= now
        or not trusted_changes().filter(pk=change.pk).exists()
    )
    if over or StoppedAddress.objects.filter(email=to.lower()).exists():
        notice.state, notice.reply = LetterState.ENDED.value, "" if over else "letters to this address are stopped"
        notice.save(update_fields=["state", "reply"])
        return Claim(notice, "", "")
    secret = secrets.token_urlsafe(SECRET_BYTES) if confirms else ""
    if confirms:
        change.token_hash = hash_secret(CONFIRM, secret)
        change.save(update_fields=["token_hash"])
    notice.attempt += 1
    Notice.objects.filter(pk=notice.pk).update(
        state=LetterState.HANDING_OVER,
        attempt=notice.attempt,
        lease_until=Now() + timedelta(seconds=settings.LETTER_LEASE_SECONDS),
    )
    return Claim(notice, to, secret)


def _hand_over(line: Line, one: Claim) -> LetterState:
    mine = Notice.objects.filter(pk=one.notice.pk, attempt=one.notice.attempt)
    try:
        message = on_the_wire(as_mail(one.notice, to=one.to, secret=one.secret))
    except Exception:
        # Whatever a record brought in: the ones behind must not wait for it.
        logger.exception("Notice %s could not be written", one.notice.pk)
        mine.filter(state=LetterState.HANDING_OVER).update(state=LetterState.HELD, lease_until=None)
        return LetterState.HELD
    outcome = line.hand_over(
        sender=settings.MAIL_FROM,
        recipient=one.to,
        message=message,
        before_dot=lambda: _commit_the_dot(one.notice),
    )
    if outcome is None:
        return LetterState.WAITING
    state = verdict(outcome).state
    in_hand = mine.filter(Q(state=LetterState.HANDING_OVER) | Q(state=LetterState.AT_THE_DOT))
    if state is LetterState.WAITING:
        refusals = one.notice.refusals + 1
        pause = pause_after(refusals, one.notice.pk)
        state = LetterState.WAITING if pause else LetterState.REFUSED
        in_hand.update(
            state=state, refusals=refusals, not_before=Now() + (pause or timedelta()), lease_until=None,
            reply=outcome.text,
        )  # fmt: skip
    else:
        sent_at = Now() if state is LetterState.SENT else None
        in_hand.update(state=state, sent_at=sent_at, lease_until=None, reply=outcome.text)
    return state


def _commit_the_dot(notice: Notice) -> bool:
    """False where the notice is no longer this process's: the line is cut without the dot."""
    wait = timedelta(seconds=settings.MAIL_DOT_SECONDS + 60)
    mine = Notice.objects.filter(pk=notice.pk, attempt=notice.attempt, state=LetterState.HANDING_OVER)
    return mine.update(state=LetterState.AT_THE_DOT, lease_until=Now() + wait) == 1
