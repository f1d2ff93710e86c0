"""Which columns of an order's facts hold what is a person's own."""

from django.db import migrations

from service_center.access.insert_only import erasable


class Migration(migrations.Migration):
    dependencies = [
        ("owner_pages", "0002_what_may_be_erased"),
        ("workshop", "0002_facts_are_insert_only"),
    ]
    operations = [
        erasable("workshop_ordermove", "reason"),
        erasable("workshop_orderfinding", "what"),
        erasable("workshop_orderestimate", "note", "lines"),
        erasable("workshop_estimateanswer", "words"),
    ]
