"""Stock moves are facts: a wrong one is put right by another."""

from django.db import migrations

from service_center.access.insert_only import insert_only


class Migration(migrations.Migration):
    dependencies = [("workshop", "0003_parts")]

    operations = [insert_only("workshop_stockmove")]
