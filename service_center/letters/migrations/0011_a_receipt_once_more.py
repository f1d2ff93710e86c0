"""A receipt whose letter failed may go once more. SQLite makes the table anew for it, so its guard is set anew."""

from django.db import migrations, models

from service_center.access.insert_only import insert_only

GUARD = insert_only("letters_mailedreceipt")


class Migration(migrations.Migration):

    dependencies = [
        ('letters', '0010_receipts_by_mail'),
    ]

    operations = [
        GUARD.undone,
        migrations.AlterField(
            model_name='mailedreceipt',
            name='number',
            field=models.CharField(max_length=16),
        ),
        migrations.AddField(
            model_name='mailedreceipt',
            name='attempt',
            field=models.PositiveSmallIntegerField(default=1),
        ),
        migrations.AddConstraint(
            model_name='mailedreceipt',
            constraint=models.UniqueConstraint(fields=('number', 'attempt'), name='a_receipt_goes_once_an_attempt'),
        ),
        GUARD,
    ]
