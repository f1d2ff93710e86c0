"""Grounds and what was reached otherwise are facts; owners who had letters until now keep their ground in writing."""

from typing import Any

from django.db import migrations

from service_center.access.insert_only import insert_only

WORDING = (
    "Before grounds were kept: the house wrote to this owner as its customer, about care for their own watch, and each "
    "letter offered a way to refuse more."
)


def keep_their_ground(apps: Any, schema_editor: Any) -> None:
    with schema_editor.connection.cursor() as cursor:
        cursor.execute(
            "INSERT INTO letters_letterground (owner_id, ground, \"on\", wording, recorded_at) "
            "SELECT id, 'existing_customer', CURRENT_DATE, %s, CURRENT_TIMESTAMP FROM book_owner WHERE letters = %s",
            [WORDING, True],
        )


class Migration(migrations.Migration):
    dependencies = [("letters", "0008_rounds_held_and_other_ways")]
    operations = [
        migrations.RunPython(keep_their_ground, migrations.RunPython.noop),
        insert_only("letters_letterground"),
        insert_only("letters_reachedotherwise"),
    ]
