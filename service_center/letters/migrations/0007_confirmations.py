"""Word about visits goes as letters of a sort of its own: once for each change, and outside the limits of invitations."""

import django.db.models.deletion
from django.db import migrations, models

from service_center.access.insert_only import insert_only


class Migration(migrations.Migration):

    dependencies = [
        ('book', '0004_corrections'),
        ('letters', '0006_house_wording'),
    ]

    operations = [
        migrations.CreateModel(
            name='Confirmation',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('news', models.CharField(choices=[('booked', 'booked'), ('moved', 'moved'), ('cancelled', 'cancelled')], max_length=9)),
                ('visit', models.UUIDField()),
                ('sequence', models.PositiveIntegerField()),
                ('day', models.DateField()),
                ('at', models.TimeField()),
                ('pieces', models.JSONField()),
                ('entry', models.TextField()),
            ],
        ),
        migrations.RemoveConstraint(
            model_name='letter',
            name='one_letter_an_owner_a_day',
        ),
        migrations.AddField(
            model_name='letter',
            name='sort',
            field=models.CharField(choices=[('invitation', 'invitation'), ('confirmation', 'confirmation')], db_default='invitation', default='invitation', max_length=12),
        ),
        migrations.AddConstraint(
            model_name='letter',
            constraint=models.UniqueConstraint(condition=models.Q(models.Q(('state', 'ended'), _negated=True), ('sort', 'invitation')), fields=('owner', 'planned_on'), name='one_letter_an_owner_a_day'),
        ),
        migrations.AddField(
            model_name='confirmation',
            name='boutique',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='book.boutique'),
        ),
        migrations.AddField(
            model_name='confirmation',
            name='letter',
            field=models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='confirmation', to='letters.letter'),
        ),
        migrations.AddField(
            model_name='confirmation',
            name='opens',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='letters.letter'),
        ),
        migrations.AddConstraint(
            model_name='confirmation',
            constraint=models.UniqueConstraint(fields=('visit', 'sequence'), name='each_change_is_told_once'),
        ),
        insert_only("letters_confirmation"),
    ]
