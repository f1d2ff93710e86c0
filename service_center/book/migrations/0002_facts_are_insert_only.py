"""Facts are added, never changed: triggers hold the promise on both databases."""

from django.db import migrations

from service_center.access.insert_only import insert_only


class Migration(migrations.Migration):
    dependencies = [("book", "0001_initial")]
    operations = [insert_only("book_historyentry"), insert_only("book_custody")]
