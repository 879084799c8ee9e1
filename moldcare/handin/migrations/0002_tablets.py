import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from moldcare.facts import ProtectFacts


class Migration(migrations.Migration):
    dependencies = [
        ("handin", "0001_initial"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="SealingKey",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("public", models.TextField()),
                ("private_encrypted", models.TextField()),
                ("made_at", models.DateTimeField()),
            ],
            options={
                "ordering": ["id"],
            },
        ),
        migrations.CreateModel(
            name="StuckEntry",
            fields=[
                ("id", models.UUIDField(primary_key=True, serialize=False)),
                ("author_said", models.CharField(max_length=120)),
                ("device", models.CharField(blank=True, max_length=64)),
                ("address", models.CharField(max_length=300)),
                ("said", models.CharField(max_length=200)),
                ("why", models.CharField(max_length=1000)),
                ("fields", models.JSONField()),
                ("photos", models.JSONField()),
                ("worked_at", models.DateTimeField()),
                ("written_at", models.DateTimeField()),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="StuckSettled",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("note", models.CharField(max_length=400)),
                ("written_at", models.DateTimeField()),
            ],
        ),
        migrations.CreateModel(
            name="Tablet",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("device", models.CharField(max_length=64, unique=True)),
                ("last_contact_at", models.DateTimeField()),
                ("waiting", models.PositiveIntegerField(default=0)),
                ("oldest_at", models.DateTimeField(null=True)),
                ("offset_ms", models.BigIntegerField(default=0)),
                ("is_kept", models.BooleanField(null=True)),
            ],
            options={
                "ordering": ["id"],
            },
        ),
        migrations.AddField(
            model_name="handin",
            name="content_hash",
            field=models.CharField(blank=True, max_length=64),
        ),
        migrations.AddField(
            model_name="handin",
            name="device",
            field=models.CharField(blank=True, max_length=64),
        ),
        migrations.AddField(
            model_name="handin",
            name="offset_ms",
            field=models.BigIntegerField(null=True),
        ),
        migrations.AddField(
            model_name="handin",
            name="worked_at",
            field=models.DateTimeField(null=True),
        ),
        migrations.AddConstraint(
            model_name="handin",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("offset_ms__isnull", True), ("worked_at__isnull", True)),
                    models.Q(("offset_ms__isnull", False), ("worked_at__isnull", False)),
                    _connector="OR",
                ),
                name="handin_handin_clock_whole",
            ),
        ),
        migrations.AddField(
            model_name="stuckentry",
            name="person",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="stucksettled",
            name="person",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="stucksettled",
            name="stuck",
            field=models.OneToOneField(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="settled",
                to="handin.stuckentry",
            ),
        ),
        migrations.AddField(
            model_name="tablet",
            name="last_person",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddConstraint(
            model_name="stucksettled",
            constraint=models.CheckConstraint(
                condition=models.Q(("note", ""), _negated=True), name="handin_stucksettled_note"
            ),
        ),
        migrations.AddConstraint(
            model_name="tablet",
            constraint=models.CheckConstraint(
                condition=models.Q(("device", ""), _negated=True), name="handin_tablet_device"
            ),
        ),
        ProtectFacts("HandIn", "StuckEntry", "StuckSettled"),
    ]
