"""Orders of parts, what was heard of them and their deliveries are facts: what is still to come follows from them."""

from django.db import migrations

from service_center.access.insert_only import insert_only


class Migration(migrations.Migration):
    dependencies = [("workshop", "0008_parts_on_order")]

    operations = [
        insert_only(table)
        for table in (
            "workshop_partsorder", "workshop_orderedpart", "workshop_orderedword", "workshop_partsdelivery",
        )
    ]  # fmt: skip
