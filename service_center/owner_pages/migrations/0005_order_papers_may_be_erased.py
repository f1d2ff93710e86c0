"""The estimate that went with a letter names its owner: its paper may be emptied through the door of access/erasing.py."""

from django.db import migrations

from service_center.access.insert_only import erasable


class Migration(migrations.Migration):
    dependencies = [
        ("owner_pages", "0004_erased_addresses"),
        ("letters", "0013_word_about_orders"),
    ]
    operations = [erasable("letters_orderword", "paper")]
