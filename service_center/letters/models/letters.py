"""What goes to an owner, the secrets in its links, and who hands it over."""

from django.db import models
from django.db.models import Q

from service_center.book.models import Owner
from service_center.letters.models.rounds import Round
from service_center.letters.models.wording import KeptWording
from service_center.letters.rules.words import Channel, LetterSort, LetterState, LinkPurpose


class Letter(models.Model):
    """What goes to one owner on one day. The state column is the queue: the database delivers (reliability.md, B1).

    `sort`: an invitation carries reminders; a confirmation, a receipt or word about an order carries none, and neither
    limit nor pause counts it.
    """

    # Found by `letters_of_owner`: each index is written again with every step of every letter.
    owner = models.ForeignKey(Owner, on_delete=models.PROTECT, db_index=False, related_name="mail")
    round = models.ForeignKey(Round, on_delete=models.PROTECT, null=True, related_name="written")
    channel = models.CharField(
        max_length=9, choices=[(c.value, c.value) for c in Channel], default=Channel.MAIL.value, db_default="mail"
    )
    sort = models.CharField(
        max_length=12,
        choices=[(s.value, s.value) for s in LetterSort],
        default=LetterSort.INVITATION.value,
        db_default=LetterSort.INVITATION.value,
    )
    language = models.CharField(max_length=35)
    wording = models.ForeignKey(KeptWording, on_delete=models.PROTECT, null=True, db_index=False, related_name="+")
    planned_on = models.DateField()
    state = models.CharField(
        max_length=16, choices=[(s.value, s.value) for s in LetterState], default=LetterState.WAITING.value
    )
    not_before = models.DateTimeField()
    attempt = models.PositiveIntegerField(default=0)
    temporary_refusals = models.PositiveSmallIntegerField(default=0, db_default=0)
    claimed_by = models.CharField(max_length=100, blank=True)
    lease_until = models.DateTimeField(null=True)
    dot_at = models.DateTimeField(null=True)
    email = models.CharField(max_length=254, blank=True)
    message_id = models.CharField(max_length=200, null=True)
    sent_at = models.DateTimeField(null=True)
    reply = models.TextField(blank=True)
    reason = models.CharField(max_length=200, blank=True)
    written_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["owner", "planned_on"],
                condition=~Q(state=LetterState.ENDED.value) & Q(sort=LetterSort.INVITATION.value),
                name="one_letter_an_owner_a_day",
            ),
            models.UniqueConstraint(fields=["message_id"], name="one_letter_a_message_id"),
        ]
        indexes = [
            models.Index(
                fields=["not_before", "id"], condition=Q(state=LetterState.WAITING.value), name="letters_that_wait"
            ),
            models.Index(fields=["lease_until"], condition=Q(lease_until__isnull=False), name="letters_in_hand"),
            models.Index(fields=["owner", "sent_at"], name="letters_of_owner"),
            models.Index(fields=["planned_on", "id"], name="letters_by_day"),
            models.Index(fields=["state", "planned_on", "id"], name="letters_by_state_and_day"),
        ]


class OwnerLink(models.Model):
    """A secret in a letter, stored as SHA-256 of "purpose|secret". It may be used again until it ends."""

    token_hash = models.CharField(max_length=64)
    purpose = models.CharField(max_length=8, choices=[(p.value, p.value) for p in LinkPurpose])
    letter = models.ForeignKey(Letter, on_delete=models.PROTECT, related_name="links")
    made_at = models.DateTimeField(auto_now_add=True)
    expires_at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["token_hash"], name="one_link_a_secret")]


class Sender(models.Model):
    """A process that hands letters over: when it last looked, and what kept it from the mail server, if anything."""

    name = models.CharField(max_length=100, unique=True)
    looked_at = models.DateTimeField()
    trouble = models.TextField(blank=True)
