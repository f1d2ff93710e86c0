import django.db.models.deletion
from django.db import migrations, models
from django.db.models import Max, Q


def keep_what_is_in_force(apps, schema_editor):
    """So far the trail told whether rounds are held, by comparing times of two machines. What that cannot prove to have
    ended stays in force: the desk is shown one round more."""
    Round, RoundsHeld, Trail = (
        apps.get_model("letters", "Round"),
        apps.get_model("letters", "RoundsHeld"),
        apps.get_model("access", "Trail"),
    )
    holds = list(Trail.objects.filter(subject="letters", deed="letters_held").order_by("-pk")[:2])
    if not holds:
        return
    held, only_one = holds[0], len(holds) == 1
    # A second restore, while the hold of the first was in force, left no row of its own that letters are held.
    again = Trail.objects.filter(subject="book:restore", pk__gt=held.pk).order_by("-pk").first()
    last = again or held
    word = Trail.objects.filter(subject="letters", deed="letters_go_on", pk__gt=last.pk, at__gte=last.at)
    if word.exists() or (only_one and not again and _let_go_since(Round)):
        return
    RoundsHeld.objects.create(last_round_id=Round.objects.aggregate(last=Max("pk"))["last"])


def _let_go_since(Round):
    """Whether a round was let go, or confirmed: itself held for the only restore there was, or later than such a one."""
    first = Round.objects.filter(unusual="restored").order_by("pk").first()
    counts = Q(Q(unusual="") | Q(decision="let_go"), finished_at__isnull=False)
    return first is not None and Round.objects.filter(counts, pk__gte=first.pk).exists()


class Migration(migrations.Migration):

    dependencies = [
        ('access', '0003_erasure_door'),
        ('letters', '0018_stop_by_mail'),
    ]

    operations = [
        migrations.CreateModel(
            name='RoundsHeld',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('held_at', models.DateTimeField(auto_now_add=True)),
                ('released_at', models.DateTimeField(null=True)),
                ('last_round', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='letters.round')),
            ],
        ),
        migrations.RunPython(keep_what_is_in_force, migrations.RunPython.noop),
    ]
