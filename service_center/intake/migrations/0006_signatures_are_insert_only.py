"""A signature and its text are facts."""

from django.db import migrations

from service_center.access.insert_only import insert_only


class Migration(migrations.Migration):
    dependencies = [("intake", "0005_a_drop_off_step_by_step")]
    operations = [insert_only("intake_signature")]
