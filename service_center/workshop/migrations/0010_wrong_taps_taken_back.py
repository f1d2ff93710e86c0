"""A wrong tap at the bench is taken back by a later fact; what was tapped stays on record."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from service_center.access.insert_only import insert_only


class Migration(migrations.Migration):
    dependencies = [
        ("workshop", "0009_orders_of_parts_are_insert_only"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="TimeTakenBack",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "time",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="taken_back",
                        to="workshop.timespent",
                    ),
                ),
            ],
        ),
        insert_only("workshop_timetakenback"),
    ]
