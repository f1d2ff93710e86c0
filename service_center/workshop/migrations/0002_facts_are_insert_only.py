"""Moves, time spent, findings, estimates and answers are facts: added, never changed."""

from django.db import migrations

from service_center.access.insert_only import insert_only


class Migration(migrations.Migration):
    dependencies = [("workshop", "0001_work_orders")]

    operations = [
        insert_only("workshop_ordermove"),
        insert_only("workshop_timespent"),
        insert_only("workshop_orderfinding"),
        insert_only("workshop_orderestimate"),
        insert_only("workshop_estimateanswer"),
    ]
