"""What was agreed is added, never changed."""

from django.db import migrations

from service_center.access.insert_only import insert_only


class Migration(migrations.Migration):
    dependencies = [("guarantee", "0001_extension_enrolment")]
    operations = [insert_only("guarantee_extensionenrolment")]
