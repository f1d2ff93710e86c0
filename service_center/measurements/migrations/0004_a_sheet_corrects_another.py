import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("measurements", "0003_limits_of_a_calibre")]

    operations = [
        migrations.AddField(
            model_name="timingsheet",
            name="voids",
            field=models.ForeignKey(
                db_index=False,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="corrections",
                to="measurements.timingsheet",
            ),
        ),
        migrations.AddConstraint(
            model_name="timingsheet",
            constraint=models.UniqueConstraint(
                condition=models.Q(("voids__isnull", False)), fields=("voids",), name="a_sheet_is_voided_once"
            ),
        ),
    ]
