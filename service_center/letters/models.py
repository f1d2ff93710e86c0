"""Reminders, the letters that carry them, rounds, the secrets in their links, and what owners answered."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from service_center.book.models import Boutique, Owner, Piece
from service_center.book.rules import ServiceKind
from service_center.letters.answered.models import AnswersCounted, AnswersOfDay  # noqa: F401  # tables of this app
from service_center.letters.rehearsing.models import Rehearsal  # noqa: F401  # a table of this app
from service_center.letters.rules.bounces import Happened
from service_center.letters.rules.codes import Fault
from service_center.letters.rules.words import (
    AnswerChoice,
    Channel,
    FoundInMail,
    Ground,
    LetterSort,
    LetterState,
    LinkPurpose,
    OrderNews,
    ReportSource,
    RoundDecision,
    Step,
    Unusual,
    VisitNews,
)


class Round(models.Model):
    """One pass over the book for one day. `unusual`: why its letters are held, where they are; then the desk decides."""

    day = models.DateField(db_index=True)
    started_at = models.DateTimeField()
    finished_at = models.DateTimeField(null=True)
    reminders = models.PositiveIntegerField(default=0)
    letters = models.PositiveIntegerField(default=0)
    unusual = models.CharField(
        max_length=8, choices=[(u.value, u.value) for u in Unusual], blank=True, default="", db_default=""
    )
    # What the round was measured by: the day of the last round, and the most letters that are usual.
    compared_with = models.DateField(null=True)
    usual_letters = models.PositiveIntegerField(null=True)
    decision = models.CharField(
        max_length=10, choices=[(d.value, d.value) for d in RoundDecision], blank=True, default="", db_default=""
    )
    decided_at = models.DateTimeField(null=True)
    decided_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")


class HouseText(models.Model):
    """One text of letters in the house's own words, from the moment it was saved. Facts: the latest row is in force.

    `text` empty: back to ours. `ours`: our text as it was then, so that a later release can say that it changed.
    `follows`: the row that was in force before, 0 for none; of two people who save at once, one comes second.
    """

    language = models.CharField(max_length=35)
    code = models.CharField(max_length=64)
    text = models.TextField(blank=True)
    ours = models.TextField()
    follows = models.BigIntegerField(default=0)
    saved_at = models.DateTimeField()
    saved_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["language", "code", "follows"], name="one_text_follows_another")]
        indexes = [models.Index(fields=["language", "code", "id"], name="house_texts_in_order")]


class KeptWording(models.Model):
    """Every text of one language as letters were written with it: what was sent is shown as it was sent. Facts."""

    language = models.CharField(max_length=35)
    digest = models.CharField(max_length=64, unique=True)
    texts = models.JSONField()
    kept_at = models.DateTimeField(auto_now_add=True)


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


class Reminder(models.Model):
    """One due date of one piece at one step. The key is what makes a letter go out once.

    `ended_on` is set when a service, an answer or a hold came before it went out; a reminder that went
    out never ends. One that ended without going out may be taken up again by a later letter. `year`: of a yearly
    step, the year in which its day falls, for each year is its own key; 0 for every other step.
    """

    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="reminders")
    kind = models.CharField(max_length=16, choices=[(kind.value, kind.value) for kind in ServiceKind])
    starts_on = models.DateField()
    step = models.CharField(max_length=16, choices=[(step.value, step.value) for step in Step])
    year = models.PositiveSmallIntegerField(default=0, db_default=0)
    letter = models.ForeignKey(Letter, on_delete=models.PROTECT, related_name="reminders")
    due_on = models.DateField()
    ended_on = models.DateField(null=True)
    ended_because = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["piece", "kind", "starts_on", "step", "year"], name="reminder_once"),
            models.CheckConstraint(
                condition=Q(step=Step.YEARLY.value, year__gt=0) | (~Q(step=Step.YEARLY.value) & Q(year=0)),
                name="only_yearly_has_a_year",
            ),
        ]

    @property
    def service(self) -> ServiceKind:
        """The kind, as the book's word."""
        return ServiceKind(self.kind)


class Confirmation(models.Model):
    """What a confirmation tells of a visit, as it stood when it was written. Facts; each change of a visit once.

    `visit` and `sequence` name the visit and its change as calendars do (RFC 5545, 3.8.4.7 and 3.8.7.4); `entry` is the
    calendar's file. `opens`: the letter whose page the link opens, on which the visit was booked. `pieces`: each one's
    name and serial. `day` and `at` are what the clock shows at the boutique.
    """

    letter = models.OneToOneField(Letter, on_delete=models.PROTECT, related_name="confirmation")
    opens = models.ForeignKey(Letter, on_delete=models.PROTECT, related_name="+")
    news = models.CharField(max_length=9, choices=[(n.value, n.value) for n in VisitNews])
    visit = models.UUIDField()
    sequence = models.PositiveIntegerField()
    day = models.DateField()
    at = models.TimeField()
    boutique = models.ForeignKey(Boutique, on_delete=models.PROTECT, related_name="+")
    pieces = models.JSONField()
    entry = models.TextField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["visit", "sequence"], name="each_change_is_told_once")]


class MailedReceipt(models.Model):
    """The receipt that a letter carries, as it was printed on that day. Facts.

    `number` is the drop-off's; `paper` the PDF; `signed` the very text that was signed, empty where nobody did. Each
    drop-off's goes once; where that failed, a second `attempt` may be asked for, and so on.
    """

    letter = models.OneToOneField(Letter, on_delete=models.PROTECT, related_name="receipt")
    number = models.CharField(max_length=16)
    attempt = models.PositiveSmallIntegerField(default=1)
    name = models.CharField(max_length=200)
    serial = models.CharField(max_length=64)
    taken_on = models.DateField()
    boutique = models.ForeignKey(Boutique, on_delete=models.PROTECT, related_name="+")
    paper = models.BinaryField()
    signed = models.TextField(blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["number", "attempt"], name="a_receipt_goes_once_an_attempt")]


class OrderWord(models.Model):
    """What a letter tells of an order, as it stood when it was written. Facts; each piece of news once.

    `number` is the order's; `key` names what the news is of: the estimate, or the move that made the piece ready. `day`:
    the estimate's last day, or the day since which the piece can be fetched. `total` is what the owner pays, as they
    read it; `paper` the estimate as PDF; both empty for other news.
    """

    letter = models.OneToOneField(Letter, on_delete=models.PROTECT, related_name="order_word")
    news = models.CharField(max_length=8, choices=[(n.value, n.value) for n in OrderNews])
    number = models.CharField(max_length=16)
    key = models.BigIntegerField()
    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="+")
    name = models.CharField(max_length=200)
    serial = models.CharField(max_length=64)
    day = models.DateField()
    boutique = models.ForeignKey(Boutique, on_delete=models.PROTECT, related_name="+")
    total = models.CharField(max_length=60, blank=True)
    paper = models.BinaryField(default=b"")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["number", "news", "key"], name="each_news_of_an_order_is_told_once")
        ]


class LetterGround(models.Model):
    """On which ground letters about paid service may go to an owner, since when, and in which words. Facts.

    A later one is added beside an earlier; the latest counts, and `withdrawn` ends those before it. Whether the owner
    wants letters now is the book's (`Owner.letters`).
    """

    owner = models.ForeignKey(Owner, on_delete=models.PROTECT, related_name="letter_grounds")
    ground = models.CharField(max_length=17, choices=[(g.value, g.value) for g in Ground])
    on = models.DateField()
    wording = models.TextField()
    recorded_at = models.DateTimeField(auto_now_add=True)
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        indexes = [
            models.Index(fields=["owner"], condition=Q(ground=Ground.WITHDRAWN.value), name="grounds_withdrawn"),
        ]


class PlannedInvitation(models.Model):
    """The day that levelling chose for inviting one overhaul (design/workshop.md). A later plan takes its place."""

    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="planned_invitations")
    starts_on = models.DateField()
    invite_on = models.DateField(db_index=True)
    planned_at = models.DateTimeField()
    planned_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["piece", "starts_on"], name="one_planned_day_an_interval")]


class CountedAhead(models.Model):
    """How many reminders come up on each day from `first` to `last`, as counted at a moment: of a book that is slow to count.

    A conclusion, kept for the desk's pages: `counts` by ISO day. `seconds`: how long the counting took.
    """

    made_at = models.DateTimeField()
    first = models.DateField()
    last = models.DateField()
    seconds = models.FloatField()
    counts = models.JSONField()


class ReachedOtherwise(models.Model):
    """That the desk telephoned an owner, or wrote on paper, in place of a letter by mail. Facts."""

    letter = models.OneToOneField(Letter, on_delete=models.PROTECT, related_name="reached")
    channel = models.CharField(max_length=9, choices=[(c.value, c.value) for c in Channel])
    on = models.DateField()
    note = models.TextField(blank=True)
    recorded_at = models.DateTimeField(auto_now_add=True)
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")


class StoppedAddress(models.Model):
    """An e-mail address that was refused for good, or too often. Lower case; no letter goes there while the row stands.

    `because`: the server's own words. `status`: its code (RFC 3463), where it gave one. `fault`: `address` for one
    refusal for good, `for_now` for several in a row that were not.
    """

    email = models.CharField(max_length=254, unique=True)
    stopped_at = models.DateTimeField()
    because = models.TextField()
    status = models.CharField(max_length=11, blank=True, default="", db_default="")
    fault = models.CharField(
        max_length=8, choices=[(f.value, f.value) for f in Fault], default=Fault.ADDRESS.value, db_default="address"
    )
    letter = models.ForeignKey(Letter, on_delete=models.PROTECT, null=True, related_name="+")


class Sender(models.Model):
    """A process that hands letters over: when it last looked, and what kept it from the mail server, if anything."""

    name = models.CharField(max_length=100, unique=True)
    looked_at = models.DateTimeField()
    trouble = models.TextField(blank=True)


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


class Answer(models.Model):
    """What the owner said of one piece, or of all letters (piece empty). Facts: a later answer outweighs an earlier."""

    owner = models.ForeignKey(Owner, on_delete=models.PROTECT, related_name="answers")
    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, null=True, related_name="answers")
    letter = models.ForeignKey(Letter, on_delete=models.PROTECT, null=True, related_name="answers")
    choice = models.CharField(max_length=16, choices=[(c.value, c.value) for c in AnswerChoice])
    day = models.DateField(null=True)
    boutique = models.ForeignKey(Boutique, on_delete=models.PROTECT, null=True, related_name="+")
    said_on = models.DateField()
    recorded_at = models.DateTimeField(auto_now_add=True)
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        indexes = [models.Index(fields=["piece", "said_on"], name="answers_about_piece")]


class AddressLifted(models.Model):
    """That the desk lets letters go to a stopped address again. Facts; what was reported before no longer counts."""

    email = models.CharField(max_length=254)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    reason = models.TextField()

    class Meta:
        indexes = [models.Index(fields=["email", "at"], name="lifted_by_address")]


class ReturnedMail(models.Model):
    """One message that came back to a return path, and what it was read as. Facts; `key` makes each count once.

    `raw` is its beginning, as it came. `found`: report, no_letter (a report about no letter of ours, or a forged one),
    auto_reply, no_report, unreadable.
    """

    key = models.CharField(max_length=64, unique=True)
    came_at = models.DateTimeField()
    found = models.CharField(max_length=10, choices=[(f.value, f.value) for f in FoundInMail])
    raw = models.BinaryField()


class ProviderCall(models.Model):
    """What the mail provider told us, signed, as it came. Read by the sweep; `trouble` says why one could not be."""

    provider = models.CharField(max_length=32)
    key = models.CharField(max_length=64, unique=True)
    came_at = models.DateTimeField()
    content_type = models.CharField(max_length=200)
    body = models.BinaryField()
    read_at = models.DateTimeField(null=True)
    trouble = models.CharField(max_length=200, blank=True)

    class Meta:
        indexes = [models.Index(fields=["id"], condition=Q(read_at=None), name="calls_not_read")]


class DeliveryReport(models.Model):
    """What somebody said about one letter on its way: its mail server, the owner's, or the provider. Facts.

    `status` and `words`: the code of RFC 3463 and the server's own words; `fault`: whose fault it was, by that code.
    """

    letter = models.ForeignKey(Letter, on_delete=models.PROTECT, related_name="reports")
    email = models.CharField(max_length=254)
    source = models.CharField(max_length=9, choices=[(s.value, s.value) for s in ReportSource])
    happened = models.CharField(max_length=12, choices=[(h.value, h.value) for h in Happened])
    happened_at = models.DateTimeField()
    status = models.CharField(max_length=11, blank=True)
    words = models.CharField(max_length=1000, blank=True)
    fault = models.CharField(max_length=8, choices=[(f.value, f.value) for f in Fault])
    mail = models.ForeignKey(ReturnedMail, on_delete=models.PROTECT, null=True, related_name="reports")
    call = models.ForeignKey(ProviderCall, on_delete=models.PROTECT, null=True, related_name="reports")
    recorded_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["source", "letter", "happened", "happened_at"], name="reported_once")
        ]
        indexes = [
            models.Index(fields=["email", "happened_at"], name="reports_by_address"),
            models.Index(fields=["fault", "happened_at", "id"], name="reports_by_fault"),
        ]


class ReportBox(models.Model):
    """Where returned mail is read from: how far, when somebody last looked, and what kept them from it, if anything."""

    name = models.CharField(max_length=254, unique=True)
    validity = models.BigIntegerField(default=0)
    read_up_to = models.BigIntegerField(default=0)
    looked_at = models.DateTimeField(null=True)
    trouble = models.TextField(blank=True)
