"""What was promised and what was decided is added, never changed."""

from django.db import migrations

from service_center.access.insert_only import insert_only


class Migration(migrations.Migration):
    dependencies = [("guarantee", "0003_terms_table_and_decisions")]
    operations = [insert_only("guarantee_houseterms"), insert_only("guarantee_coverdecision")]
