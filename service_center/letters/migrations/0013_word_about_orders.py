"""Word about an order in the house goes as a letter of a sort of its own, once for each piece of news."""

import django.db.models.deletion
from django.db import migrations, models

from service_center.access.insert_only import insert_only


class Migration(migrations.Migration):

    dependencies = [
        ('book', '0006_two_that_began_together'),
        ('letters', '0012_grounds_withdrawn'),
    ]

    operations = [
        migrations.AlterField(
            model_name='letter',
            name='sort',
            field=models.CharField(choices=[('invitation', 'invitation'), ('confirmation', 'confirmation'), ('receipt', 'receipt'), ('order', 'order')], db_default='invitation', default='invitation', max_length=12),
        ),
        migrations.CreateModel(
            name='OrderWord',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('news', models.CharField(choices=[('estimate', 'estimate'), ('ready', 'ready')], max_length=8)),
                ('number', models.CharField(max_length=16)),
                ('key', models.BigIntegerField()),
                ('name', models.CharField(max_length=200)),
                ('serial', models.CharField(max_length=64)),
                ('day', models.DateField()),
                ('total', models.CharField(blank=True, max_length=60)),
                ('paper', models.BinaryField(default=b'')),
                ('boutique', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='book.boutique')),
                ('letter', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='order_word', to='letters.letter')),
                ('piece', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='book.piece')),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('number', 'news', 'key'), name='each_news_of_an_order_is_told_once')],
            },
        ),
        insert_only("letters_orderword"),
    ]
