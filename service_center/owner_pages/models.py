"""What owners ask of the house behind a letter's link: another e-mail address, a correction, erasure, their data."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from service_center.book.models import Owner
from service_center.letters.models import Letter
from service_center.letters.rules.words import LetterState
from service_center.owner_pages.rules import NoticeKind, RequestKind, RequestState


class EmailChange(models.Model):
    """An e-mail address that an owner gave, and that counts once somebody followed the link in the mail to it.

    `token_hash`: SHA-256 of the newest secret (`rules.hash_secret`); empty until the mail is written.
    """

    owner = models.ForeignKey(Owner, on_delete=models.PROTECT, related_name="email_changes")
    letter = models.ForeignKey(Letter, on_delete=models.PROTECT, related_name="+")
    before = models.CharField(max_length=254, blank=True)
    email = models.CharField(max_length=254)
    asked_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    token_hash = models.CharField(max_length=64, null=True, unique=True)
    confirmed_at = models.DateTimeField(null=True)
    withdrawn_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["owner"],
                condition=Q(confirmed_at=None, withdrawn_at=None),
                name="one_email_change_at_a_time",
            )
        ]


class Notice(models.Model):
    """A mail about an e-mail change, to the new address or to the one before. Handed over as letters are, once.

    `state` has the words of a letter; `attempt` and the lease say whose hands it is in.
    """

    change = models.ForeignKey(EmailChange, on_delete=models.PROTECT, related_name="notices")
    kind = models.CharField(max_length=16, choices=[(k.value, k.value) for k in NoticeKind])
    state = models.CharField(
        max_length=16, choices=[(s.value, s.value) for s in LetterState], default=LetterState.WAITING.value
    )
    not_before = models.DateTimeField()
    attempt = models.PositiveIntegerField(default=0)
    refusals = models.PositiveSmallIntegerField(default=0)
    lease_until = models.DateTimeField(null=True)
    sent_at = models.DateTimeField(null=True)
    reply = models.TextField(blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["change", "kind"], name="a_notice_of_a_kind_once")]
        indexes = [models.Index(fields=["state", "not_before"], name="notices_that_wait")]


class OwnerRequest(models.Model):
    """What an owner asks of the house about their data, and what a person decided.

    `said`: the new name, the owner's words, which fields they corrected, or the form of the copy. `due_on`: the last day to answer (GDPR, Art. 12(3): one month).
    """

    owner = models.ForeignKey(Owner, on_delete=models.PROTECT, related_name="requests")
    letter = models.ForeignKey(Letter, on_delete=models.PROTECT, related_name="+")
    kind = models.CharField(max_length=16, choices=[(k.value, k.value) for k in RequestKind])
    said = models.TextField(blank=True)
    asked_on = models.DateField()
    asked_at = models.DateTimeField()
    due_on = models.DateField()
    state = models.CharField(
        max_length=16, choices=[(s.value, s.value) for s in RequestState], default=RequestState.OPEN.value
    )
    decided_at = models.DateTimeField(null=True)
    decided_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    reason = models.TextField(blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["owner", "kind"],
                condition=Q(state=RequestState.OPEN.value),
                name="one_open_request_of_a_kind",
            )
        ]
        indexes = [
            models.Index(fields=["state", "due_on", "id"], name="requests_by_day"),
            models.Index(fields=["owner", "kind", "asked_at"], name="requests_of_owner"),
        ]


class ErasedAddress(models.Model):
    """An e-mail address whose owner was erased, as a keyed hash (`rules.erased.hash_of`): no import brings it back."""

    hash = models.CharField(max_length=64, unique=True)
    erased_on = models.DateField()
