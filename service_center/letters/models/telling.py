"""What a letter tells that reminds of nothing: a visit, a receipt, news of an order."""

from django.db import models

from service_center.book.models import Boutique, Piece
from service_center.letters.models.letters import Letter
from service_center.letters.rules.words import OrderNews, VisitNews


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
