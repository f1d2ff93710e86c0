"""What came back, and that the desk lifted a stop: facts, which triggers guard."""

from django.db import migrations

from service_center.access.insert_only import insert_only


class Migration(migrations.Migration):
    dependencies = [("letters", "0004_returned_mail")]
    operations = [
        insert_only("letters_returnedmail"),
        insert_only("letters_deliveryreport"),
        insert_only("letters_addresslifted"),
    ]
