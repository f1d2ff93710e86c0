"""What is counted of each part is counted by kind of order. A count is a conclusion: the next look counts anew."""

from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.state import StateApps


def forget(apps: StateApps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    apps.get_model("planning", "PartOutlook").objects.all().delete()


class Migration(migrations.Migration):
    dependencies = [("planning", "0006_parts_outlook"), ("workshop", "0008_parts_on_order")]

    operations = [
        migrations.RunPython(forget, forget),
        migrations.RemoveField("partoutlook", "used"),
        migrations.RemoveField("partoutlook", "orders"),
        migrations.RemoveField("partoutlook", "waiting"),
        migrations.AddField("partoutlook", "kinds", models.JSONField(default=dict), preserve_default=False),
        migrations.AddField("partoutlook", "ahead", models.JSONField(default=dict), preserve_default=False),
    ]
