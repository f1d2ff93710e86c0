"""Postal addresses and the search of owners by e-mail were written side by side."""

from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [("book", "0005_owners_by_email"), ("book", "0005_postal_address")]
    operations = []
