"""The house's own texts, and the wording that each letter was written with: facts, which triggers guard."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from service_center.access.insert_only import insert_only


class Migration(migrations.Migration):

    dependencies = [
        ('letters', '0005_returned_mail_is_insert_only'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='KeptWording',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('language', models.CharField(max_length=35)),
                ('digest', models.CharField(max_length=64, unique=True)),
                ('texts', models.JSONField()),
                ('kept_at', models.DateTimeField(auto_now_add=True)),
            ],
        ),
        migrations.AddField(
            model_name='letter',
            name='wording',
            field=models.ForeignKey(db_index=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='letters.keptwording'),
        ),
        migrations.CreateModel(
            name='HouseText',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('language', models.CharField(max_length=35)),
                ('code', models.CharField(max_length=64)),
                ('text', models.TextField(blank=True)),
                ('ours', models.TextField()),
                ('follows', models.BigIntegerField(default=0)),
                ('saved_at', models.DateTimeField()),
                ('saved_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'indexes': [models.Index(fields=['language', 'code', 'id'], name='house_texts_in_order')],
                'constraints': [models.UniqueConstraint(fields=('language', 'code', 'follows'), name='one_text_follows_another')],
            },
        ),
        insert_only("letters_housetext"),
        insert_only("letters_keptwording"),
    ]
