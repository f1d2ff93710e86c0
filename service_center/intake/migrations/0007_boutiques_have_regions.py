"""In which part of its country a boutique lies, for its public holidays."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('book', '0006_two_that_began_together'),
        ('intake', '0006_signatures_are_insert_only'),
    ]

    operations = [
        migrations.CreateModel(
            name='BoutiqueRegion',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('code', models.CharField(max_length=32)),
                ('boutique', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='region', to='book.boutique')),
            ],
        ),
    ]
