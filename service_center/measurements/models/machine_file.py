"""How the house reads the files of its timing machines. No maker's format: each is set up once, column by column."""

from django.db import models


class MachineFile(models.Model):
    """One kind of file: which column is which of our figures, in which unit, and its own words for positions.

    `position_words` and `wind_words` map a word of the file to our symbol, by lines of "word = symbol".
    """

    name = models.CharField(max_length=100, unique=True)
    lines_above = models.PositiveSmallIntegerField(default=0)
    position_column = models.CharField(max_length=100)
    wind_column = models.CharField(max_length=100, blank=True)
    rate_column = models.CharField(max_length=100, blank=True)
    amplitude_column = models.CharField(max_length=100, blank=True)
    beat_error_column = models.CharField(max_length=100, blank=True)
    rate_unit = models.CharField(max_length=16, default="s/d")
    beat_error_unit = models.CharField(max_length=16, default="ms")
    whole_beat_error = models.BooleanField(default=False)
    decimal_comma = models.BooleanField(default=False)
    position_words = models.JSONField(default=dict)
    wind_words = models.JSONField(default=dict)

    def __str__(self) -> str:
        return self.name
