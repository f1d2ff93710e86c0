"""Which backups were tried, and found to be whole. Tables only."""

from django.db import models


class VerifiedBackup(models.Model):
    """One backup that was brought back into a scratch database and held against its own list. Only ever added to."""

    made_at = models.DateTimeField(db_index=True)
    verified_at = models.DateTimeField()
    name = models.CharField(max_length=255)
    size = models.BigIntegerField()
