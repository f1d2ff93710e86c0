"""Which columns of facts hold what is a person's own, and may be emptied through the door of access/erasing.py.

All of them in one place, so that what the door opens can be read at one glance.
"""

from django.db import migrations

from service_center.access.insert_only import erasable


class Migration(migrations.Migration):
    dependencies = [
        ("access", "0003_erasure_door"),
        ("book", "0007_owners_erased"),
        ("measurements", "0006_dry_before_wet"),
        ("guarantee", "0004_terms_and_decisions_are_facts"),
        ("letters", "0012_grounds_withdrawn"),
        ("intake", "0006_signatures_are_insert_only"),
        ("owner_pages", "0001_what_owners_ask"),
    ]
    operations = [
        erasable("access_trail", "before", "after", "reason"),
        erasable("book_historyentry", "note"),
        erasable("book_custody", "reason"),
        erasable("measurements_timingsheet", "remark"),
        erasable("measurements_tightnessresult", "remark"),
        erasable("measurements_reservereading", "remark"),
        erasable("guarantee_coverdecision", "reason"),
        erasable("letters_confirmation", "entry"),
        erasable("letters_mailedreceipt", "paper", "signed"),
        erasable("letters_letterground", "wording"),
        erasable("letters_reachedotherwise", "note"),
        erasable("letters_returnedmail", "raw"),
        erasable("letters_deliveryreport", "email", "words"),
        erasable("letters_addresslifted", "email", "reason"),
        erasable("intake_signature", "text", "text_sha256", "name", "drawn"),
    ]
