import django.db.models.deletion
from django.db import migrations, models

from moldcare.facts import ProtectFacts


class Migration(migrations.Migration):
    dependencies = [
        ("plant", "0001_initial"),
    ]

    operations = [
        migrations.CreateModel(
            name="CautionLine",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                (
                    "family_key",
                    models.CharField(blank=True, max_length=40, verbose_name="for work on"),
                ),
                ("text", models.CharField(max_length=300, verbose_name="caution")),
                ("added_at", models.DateTimeField(editable=False)),
                ("withdrawn_at", models.DateTimeField(editable=False, null=True)),
            ],
            options={
                "ordering": ["id"],
            },
        ),
        migrations.AddField(
            model_name="plant",
            name="lockout_procedure",
            field=models.CharField(
                blank=True, max_length=120, verbose_name="lock-out procedure of the site"
            ),
        ),
        migrations.AddField(
            model_name="shiftexception",
            name="ends",
            field=models.TimeField(null=True),
        ),
        migrations.AddField(
            model_name="shiftexception",
            name="starts",
            field=models.TimeField(null=True),
        ),
        migrations.AddField(
            model_name="shiftexception",
            name="takes_back",
            field=models.OneToOneField(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="taken_back_by",
                to="plant.shiftexception",
            ),
        ),
        migrations.AddConstraint(
            model_name="shiftexception",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("ends__isnull", True), ("starts__isnull", True)),
                    models.Q(
                        ("ends__isnull", False),
                        ("is_worked", True),
                        ("starts__isnull", False),
                        models.Q(("shift_name", ""), _negated=True),
                    ),
                    _connector="OR",
                ),
                name="plant_shiftexception_times",
            ),
        ),
        migrations.AddConstraint(
            model_name="cautionline",
            constraint=models.UniqueConstraint(
                condition=models.Q(("withdrawn_at__isnull", True)),
                fields=("family_key", "text"),
                name="plant_cautionline_once",
            ),
        ),
        migrations.AddConstraint(
            model_name="cautionline",
            constraint=models.CheckConstraint(
                condition=models.Q(("text", ""), _negated=True), name="plant_cautionline_text"
            ),
        ),
        migrations.AddConstraint(
            model_name="cautionline",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("withdrawn_at__isnull", True),
                    ("withdrawn_at__gte", models.F("added_at")),
                    _connector="OR",
                ),
                name="plant_cautionline_order",
            ),
        ),
        ProtectFacts("ShiftException"),
    ]
