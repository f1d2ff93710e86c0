"""What was verified is never changed."""

from django.db import migrations

from service_center.access.insert_only import insert_only


class Migration(migrations.Migration):
    dependencies = [("keeping", "0001_verified_backups")]
    operations = [insert_only("keeping_verifiedbackup")]
