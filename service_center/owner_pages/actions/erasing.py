"""Erasing an owner: in one transaction, what is theirs is emptied and what is the piece's stays (GDPR, Art. 17)."""

import logging
from collections.abc import Collection
from datetime import date, datetime

from django.conf import settings
from django.db import connection, transaction
from django.db.models import F, Q
from django.db.models.functions import Lower

from service_center.access.actions import leave_trail
from service_center.access.erasing import door_open
from service_center.access.models import Staff, Trail
from service_center.book.models import Owner, Piece, PostalAddress
from service_center.intake.models import Draft, DraftStep, DropOff, Photograph, Signature, Visit
from service_center.intake.photographs.actions import delete_files
from service_center.intake.visits.rules import VisitState
from service_center.letters.actions.ending import NOT_GONE_OUT, end_all_of
from service_center.letters.models import (
    AddressLifted,
    Confirmation,
    DeliveryReport,
    Letter,
    LetterGround,
    MailedReceipt,
    OrderWord,
    OwnerLink,
    ProviderCall,
    ReachedOtherwise,
    Reminder,
    ReturnedMail,
    StoppedAddress,
)
from service_center.letters.rules.words import LetterState
from service_center.owner_pages import erasure_journal
from service_center.owner_pages.erasure import (
    IN_HAND,
    Obstacle,
    Particulars,
    drop_offs_still_kept,
    obstacles,
    particulars_of,
    photographs_past_keeping,
    pieces_ever,
    remarks_about,
    rewrite,
)
from service_center.owner_pages.models import EmailChange, ErasedAddress, Notice, OwnerRequest
from service_center.owner_pages.rules import RequestKind, RequestState
from service_center.owner_pages.rules.erased import erased_by, hash_of
from service_center.workshop.models import EstimateAnswer

logger = logging.getLogger(__name__)

ERASED = "the owner's data were erased"
NOTHING = {"name": "", "email": "", "phone": "", "language": "", "country": "", "time_zone": ""}
NO_KEYS = {"name_key": "", "family_name_key": "", "phone_key": ""}
UNSIGNED = {"text": "", "text_sha256": "", "name": "", "drawn": b""}


class CannotEraseNowError(Exception):
    """Something has to be over first; nothing was erased."""

    def __init__(self, because: list[Obstacle]) -> None:
        self.because = because
        super().__init__(", ".join(because))


def erase(owner: Owner, *, on: date, by: Staff, now: datetime) -> None:
    """Empty all that is an owner's own, on a day. Their row stays without a name, under its code, for the pieces' sake.

    Signed receipts and photographs that the law still keeps are sealed: no page shows them, and `put_away` empties
    them when their time is over. Raises CannotEraseNowError; nothing was changed then.
    """
    with door_open():
        owner = Owner.objects.select_for_update(no_key=True).get(pk=owner.pk)
        if owner.erased_on:
            raise CannotEraseNowError([Obstacle.ERASED])
        about = particulars_of(owner)
        _stop_letters(owner, on=on, now=now)
        # Asked after what waited was taken back: whatever a sender has claimed meanwhile stands here.
        if because := obstacles(owner, now):
            raise CannotEraseNowError(because)
        _empty(owner, about, on=on, by=by, now=now)
        _write_down(owner, about, on=on, now=now)


def erase_again(owner: Owner, *, on: date, now: datetime) -> None:
    """Empty all that is an owner's own once more: a backup of before the day `on` of their erasure was brought back.

    What keeps an erasure back had been over then; where the backup has it as still under way, it is settled first,
    but for the pieces themselves: those stay where the book has them until somebody says otherwise.
    """
    with door_open():
        owner = Owner.objects.select_for_update(no_key=True).get(pk=owner.pk)
        about = particulars_of(owner)
        _stop_letters(owner, on=on, now=now)
        _settle(owner, now=now)
        _empty(owner, about, on=on, by=None, now=now)


def _empty(owner: Owner, about: Particulars, *, on: date, by: Staff | None, now: datetime) -> None:
    pieces = pieces_ever(owner)
    _empty_mail(owner, about, on=on)
    _empty_what_they_asked(owner, now=now, by=by)
    _empty_counter(owner, pieces, on=on)
    for rows, column in remarks_about(pieces, owner):
        rewrite(rows, column, about)
    Trail.objects.filter(subject=f"owner:{owner.code}").update(before=None, after=None, reason="")
    PostalAddress.objects.filter(owner=owner).delete()
    Owner.objects.filter(pk=owner.pk).update(**NOTHING, **NO_KEYS, letters=False, erased_on=on)
    leave_trail(by=by, deed="owner_erased", subject=f"owner:{owner.code}", after={"erased_on": on.isoformat()})


def _write_down(owner: Owner, about: Particulars, *, on: date, now: datetime) -> None:
    """Into the journal, as the last thing before the database says so.

    Should the database refuse at the very end, the line stands for an erasure that a person asked for and that has to
    be asked for again; a restore before that would carry it out.
    """
    erased = erased_by(owner.code, emails=about.emails, names=[owner.name], on=on, at=now, secret=settings.SECRET_KEY)
    try:
        erasure_journal.add(erased)
    except OSError as error:
        logger.exception("The erasure of owner %s is not in the journal, and was not done", owner.code)
        raise CannotEraseNowError([Obstacle.JOURNAL]) from error


def _settle(owner: Owner, *, now: datetime) -> None:
    """End what a backup has as under way."""
    Visit.objects.filter(owner=owner, state=VisitState.BOOKED).update(
        state=VisitState.CANCELLED.value, sequence=F("sequence") + 1, changed_at=now
    )
    Draft.objects.filter(piece__in=pieces_ever(owner), ended_at=None).update(ended_at=now, given_up=True)
    Letter.objects.filter(owner=owner, state__in=IN_HAND).update(
        state=LetterState.ENDED.value, lease_until=None, reason=ERASED
    )
    Notice.objects.filter(change__owner=owner, state__in=IN_HAND).update(
        state=LetterState.ENDED.value, lease_until=None
    )


def put_away(*, as_of: date) -> int:
    """Empty signed receipts and photographs of erased owners that no law keeps any more. Returns how many receipts."""
    over = DropOff.objects.filter(owner__erased_on__isnull=False)
    over = over.exclude(pk__in=drop_offs_still_kept(as_of).values("pk"))
    with door_open():
        _delete_photographs(list(Photograph.objects.filter(draft__drop_off__in=over).values_list("key", flat=True)))
        return Signature.objects.filter(drop_off__in=over).exclude(text="", name="").update(**UNSIGNED)


def _stop_letters(owner: Owner, *, on: date, now: datetime) -> None:
    living = Reminder.objects.filter(letter__owner=owner, ended_on=None).values_list("piece", flat=True)
    end_all_of(set(living), owner=owner.pk, on=on, because=ERASED)
    waiting = Letter.objects.filter(owner=owner, state__in=NOT_GONE_OUT)
    waiting.update(state=LetterState.ENDED.value, reason=ERASED)
    Notice.objects.filter(change__owner=owner, state=LetterState.WAITING).update(state=LetterState.ENDED.value)
    OwnerLink.objects.filter(letter__owner=owner, withdrawn_at=None).update(withdrawn_at=now)


def _empty_mail(owner: Owner, about: Particulars, *, on: date) -> None:
    theirs = {"letter__in": list(Letter.objects.filter(owner=owner).values_list("pk", flat=True))}
    told = DeliveryReport.objects.filter(**theirs)
    mails, calls = set(told.values_list("mail", flat=True)), set(told.values_list("call", flat=True))
    ReturnedMail.objects.filter(Q(pk__in=mails - {None}) | Q(pk__in=_holding(ReturnedMail, "raw", about))).update(
        raw=b""
    )
    ProviderCall.objects.filter(Q(pk__in=calls - {None}) | Q(pk__in=_holding(ProviderCall, "body", about))).update(
        body=b""
    )
    told.update(email="", words="")
    Confirmation.objects.filter(**theirs).update(entry="")
    MailedReceipt.objects.filter(**theirs).update(paper=b"", signed="")
    OrderWord.objects.filter(**theirs).update(paper=b"")
    ReachedOtherwise.objects.filter(**theirs).update(note="")
    LetterGround.objects.filter(owner=owner).update(wording="")
    Letter.objects.filter(owner=owner).update(email="", reply="")
    for email in about.emails:
        others = Owner.objects.annotate(lower=Lower("email")).filter(lower=email.lower()).exclude(pk=owner.pk)
        if others.exists():
            continue  # two who share an address: what is known of it is the other one's too
        ErasedAddress.objects.get_or_create(
            hash=hash_of("email", email, settings.SECRET_KEY), defaults={"erased_on": on}
        )
        AddressLifted.objects.filter(email__iexact=email).update(email="", reason="")
        StoppedAddress.objects.filter(email=email.lower()).delete()
    StoppedAddress.objects.filter(**theirs).update(letter=None)


def _holding(model: type[ReturnedMail | ProviderCall], column: str, about: Particulars) -> list[int]:
    """Raw mails and calls in which an address of theirs stands as it is written. One statement an address."""
    if not about.emails:
        return []
    table = connection.ops.quote_name(model._meta.db_table)  # noqa: SLF001
    within = "position(%s in {0}) > 0" if connection.vendor == "postgresql" else "instr({0}, %s) > 0"
    found: set[int] = set()
    with connection.cursor() as cursor:
        for email in about.emails:
            cursor.execute(f"SELECT id FROM {table} WHERE {within.format(column)}", [email.encode()])  # noqa: S608
            found.update(pk for (pk,) in cursor.fetchall())
    return sorted(found)


def _empty_what_they_asked(owner: Owner, *, now: datetime, by: Staff | None) -> None:
    changes = EmailChange.objects.filter(owner=owner)
    Notice.objects.filter(change__in=changes).update(reply="")
    changes.filter(confirmed_at=None, withdrawn_at=None).update(withdrawn_at=now)
    changes.update(before="", email="", token_hash=None)
    asked = OwnerRequest.objects.filter(owner=owner)
    waiting = asked.filter(state=RequestState.OPEN)
    waiting.filter(kind=RequestKind.ERASURE).update(state=RequestState.DONE.value, decided_at=now, decided_by=by)
    waiting.update(state=RequestState.DECLINED.value, decided_at=now, decided_by=by)
    asked.update(said="", reason="")


def _empty_counter(owner: Owner, pieces: Collection[Piece], *, on: date) -> None:
    brought = DropOff.objects.filter(owner=owner)
    past = brought.exclude(pk__in=drop_offs_still_kept(on).values("pk"))
    Signature.objects.filter(drop_off__in=past).update(**UNSIGNED)
    brought.update(owner_says="")
    # What the owner said to an estimate is theirs; that they agreed or declined is the order's.
    EstimateAnswer.objects.filter(estimate__order__owner=owner).update(words="")
    # What was typed step by step: of their drop-offs, and of those that were given up.
    given_up = Q(draft__piece__in=[piece.pk for piece in pieces], draft__drop_off=None, draft__ended_at__isnull=False)
    DraftStep.objects.filter(Q(draft__drop_off__owner=owner) | given_up).delete()
    abandoned = Draft.objects.filter(piece__in=pieces, drop_off=None, ended_at__isnull=False)
    keys = Photograph.objects.filter(draft__in=abandoned).values_list("key", flat=True)
    _delete_photographs([*keys, *photographs_past_keeping([owner], on).values_list("key", flat=True)])


def _delete_photographs(keys: list[str]) -> None:
    Photograph.objects.filter(key__in=keys).delete()
    transaction.on_commit(lambda: delete_files(keys), robust=True)
