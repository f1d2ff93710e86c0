"""The receipt of a drop-off goes as a letter of a sort of its own, once for each drop-off."""

import django.db.models.deletion
from django.db import migrations, models

from service_center.access.insert_only import insert_only


class Migration(migrations.Migration):

    dependencies = [
        ('book', '0006_two_that_began_together'),
        ('letters', '0009_grounds_of_those_who_have_letters'),
    ]

    operations = [
        migrations.AlterField(
            model_name='letter',
            name='sort',
            field=models.CharField(choices=[('invitation', 'invitation'), ('confirmation', 'confirmation'), ('receipt', 'receipt')], db_default='invitation', default='invitation', max_length=12),
        ),
        migrations.CreateModel(
            name='MailedReceipt',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('number', models.CharField(max_length=16, unique=True)),
                ('name', models.CharField(max_length=200)),
                ('serial', models.CharField(max_length=64)),
                ('taken_on', models.DateField()),
                ('paper', models.BinaryField()),
                ('signed', models.TextField(blank=True)),
                ('boutique', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='book.boutique')),
                ('letter', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='receipt', to='letters.letter')),
            ],
        ),
        insert_only("letters_mailedreceipt"),
    ]
