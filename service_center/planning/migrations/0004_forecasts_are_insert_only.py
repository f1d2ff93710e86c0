"""What was forecast is a fact: added, never changed."""

from django.db import migrations

from service_center.access.insert_only import insert_only


class Migration(migrations.Migration):
    dependencies = [("planning", "0003_weeks_worked_out_and_forecasts")]

    operations = [insert_only("planning_forecast")]
