"""A drop-off names the move that put the piece into our hands: what came after it tells whether it was handed back."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("book", "0002_facts_are_insert_only"), ("intake", "0001_initial")]

    operations = [
        migrations.AddField(
            model_name="dropoff",
            name="move",
            # No default: nothing has been taken in before this column.
            field=models.OneToOneField(
                on_delete=django.db.models.deletion.PROTECT, related_name="drop_off", to="book.custody"
            ),
        ),
        migrations.RemoveIndex(model_name="dropoff", name="drop_offs_of_boutique"),
        migrations.AddIndex(
            model_name="dropoff",
            index=models.Index(fields=["boutique", "-id"], name="drop_offs_at_boutique"),
        ),
    ]
