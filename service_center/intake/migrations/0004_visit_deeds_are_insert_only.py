"""What was done to a visit is added, never changed: triggers hold the promise on both databases."""

from django.db import migrations

from service_center.access.insert_only import insert_only


class Migration(migrations.Migration):
    dependencies = [("intake", "0003_visits")]
    operations = [insert_only("intake_visitdeed")]
