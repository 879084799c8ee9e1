import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("care", "0001_initial"),
        ("molds", "0001_initial"),
    ]

    operations = [
        migrations.CreateModel(
            name="TakenSet",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("revision", models.PositiveIntegerField()),
                ("without", models.JSONField(blank=True, default=list)),
                ("taken_at", models.DateTimeField()),
            ],
        ),
        migrations.RemoveConstraint(
            model_name="setrule",
            name="care_setrule_once",
        ),
        migrations.AddField(
            model_name="carerule",
            name="signs",
            field=models.CharField(
                blank=True, max_length=400, verbose_name="signs on the part that it is overdue"
            ),
        ),
        migrations.AddField(
            model_name="ruleset",
            name="equipment",
            field=models.CharField(
                blank=True,
                choices=[
                    ("", "nothing in particular"),
                    ("slides", "slides or lifters"),
                    ("bubblers", "bubblers or baffles"),
                    ("hot_runner", "a hot runner"),
                ],
                default="",
                max_length=12,
                verbose_name="molds that have",
            ),
        ),
        migrations.AddField(
            model_name="ruleset",
            name="fillers",
            field=models.JSONField(blank=True, default=list, verbose_name="fillers"),
        ),
        migrations.AddField(
            model_name="ruleset",
            name="finishes",
            field=models.JSONField(blank=True, default=list, verbose_name="finish grades"),
        ),
        migrations.AddField(
            model_name="ruleset",
            name="mold_classes",
            field=models.JSONField(blank=True, default=list, verbose_name="mold classes"),
        ),
        migrations.AddField(
            model_name="ruleset",
            name="resin_groups",
            field=models.JSONField(blank=True, default=list, verbose_name="resin groups"),
        ),
        migrations.AddField(
            model_name="ruleset",
            name="revision",
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
        migrations.AddField(
            model_name="setrule",
            name="by_filler",
            field=models.BooleanField(default=False, verbose_name="the mold's filler shortens it"),
        ),
        migrations.AddField(
            model_name="setrule",
            name="by_resin",
            field=models.BooleanField(default=False, verbose_name="the mold's resin shortens it"),
        ),
        migrations.AddField(
            model_name="setrule",
            name="changed_in",
            field=models.PositiveIntegerField(default=1, editable=False),
        ),
        migrations.AddField(
            model_name="setrule",
            name="signs",
            field=models.CharField(
                blank=True, max_length=400, verbose_name="signs on the part that it is overdue"
            ),
        ),
        migrations.AddField(
            model_name="setrule",
            name="withdrawn_at",
            field=models.DateTimeField(editable=False, null=True),
        ),
        migrations.AddConstraint(
            model_name="ruleset",
            constraint=models.CheckConstraint(
                condition=models.Q(("equipment__in", ["", "slides", "bubblers", "hot_runner"])),
                name="care_ruleset_equipment_known",
            ),
        ),
        migrations.AddConstraint(
            model_name="setrule",
            constraint=models.UniqueConstraint(
                condition=models.Q(("withdrawn_at__isnull", True)),
                fields=("rule_set", "name"),
                name="care_setrule_once",
            ),
        ),
        migrations.AddField(
            model_name="takenset",
            name="mold",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="taken_sets",
                to="molds.mold",
            ),
        ),
        migrations.AddField(
            model_name="takenset",
            name="rule_set",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="takings",
                to="care.ruleset",
            ),
        ),
        migrations.AddConstraint(
            model_name="takenset",
            constraint=models.UniqueConstraint(
                fields=("mold", "rule_set"), name="care_takenset_once"
            ),
        ),
    ]
