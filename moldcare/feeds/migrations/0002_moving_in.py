import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from moldcare.facts import ProtectFacts


class Migration(migrations.Migration):
    dependencies = [
        ("care", "0001_initial"),
        ("feeds", "0001_initial"),
        ("logbook", "0001_initial"),
        ("molds", "0001_initial"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="BroughtIn",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("row", models.PositiveIntegerField()),
                (
                    "act",
                    models.CharField(
                        choices=[
                            ("mold_added", "a mold"),
                            ("mold_changed", "a change of a mold"),
                            ("rule_added", "a care rule"),
                            ("rule_changed", "a change of a care rule"),
                            ("last_done", "when a rule was last done"),
                        ],
                        max_length=12,
                    ),
                ),
                ("before", models.JSONField(default=dict)),
                ("after", models.JSONField(default=dict)),
            ],
            options={
                "verbose_name_plural": "brought in",
                "ordering": ["batch", "id"],
            },
        ),
        migrations.CreateModel(
            name="ImportUndone",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("reason", models.CharField(max_length=200)),
                ("stayed", models.JSONField(default=list)),
                ("counts", models.JSONField(default=dict)),
                ("written_at", models.DateTimeField()),
            ],
            options={
                "verbose_name_plural": "imports undone",
                "ordering": ["id"],
            },
        ),
        migrations.CreateModel(
            name="RowMended",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "rows mended",
                "ordering": ["id"],
            },
        ),
        migrations.RemoveConstraint(
            model_name="importbatch",
            name="feeds_importbatch_kind_known",
        ),
        migrations.AlterField(
            model_name="columnmatch",
            name="kind",
            field=models.CharField(
                choices=[
                    ("readings", "counter readings"),
                    ("molds", "molds"),
                    ("rules", "care rules"),
                ],
                max_length=10,
            ),
        ),
        migrations.AlterField(
            model_name="importbatch",
            name="kind",
            field=models.CharField(
                choices=[
                    ("readings", "counter readings"),
                    ("molds", "molds"),
                    ("rules", "care rules"),
                ],
                max_length=10,
            ),
        ),
        migrations.AlterField(
            model_name="upload",
            name="kind",
            field=models.CharField(
                choices=[
                    ("readings", "counter readings"),
                    ("molds", "molds"),
                    ("rules", "care rules"),
                ],
                max_length=10,
            ),
        ),
        migrations.AddConstraint(
            model_name="importbatch",
            constraint=models.CheckConstraint(
                condition=models.Q(("kind__in", ["readings", "molds", "rules"])),
                name="feeds_importbatch_kind_known",
            ),
        ),
        migrations.AddField(
            model_name="broughtin",
            name="batch",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="brought",
                to="feeds.importbatch",
            ),
        ),
        migrations.AddField(
            model_name="broughtin",
            name="completion",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="care.completion",
            ),
        ),
        migrations.AddField(
            model_name="broughtin",
            name="entry",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="logbook.entry"
            ),
        ),
        migrations.AddField(
            model_name="broughtin",
            name="mold",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="molds.mold"
            ),
        ),
        migrations.AddField(
            model_name="broughtin",
            name="rule",
            field=models.ForeignKey(
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="care.carerule",
            ),
        ),
        migrations.AddField(
            model_name="importundone",
            name="batch",
            field=models.OneToOneField(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="undone",
                to="feeds.importbatch",
            ),
        ),
        migrations.AddField(
            model_name="importundone",
            name="person",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="rowmended",
            name="batch",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="mends",
                to="feeds.importbatch",
            ),
        ),
        migrations.AddField(
            model_name="rowmended",
            name="row",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="mended",
                to="feeds.importrow",
            ),
        ),
        migrations.AddConstraint(
            model_name="broughtin",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    (
                        "act__in",
                        ["mold_added", "mold_changed", "rule_added", "rule_changed", "last_done"],
                    )
                ),
                name="feeds_broughtin_act_known",
            ),
        ),
        migrations.AddConstraint(
            model_name="importundone",
            constraint=models.CheckConstraint(
                condition=models.Q(("reason", ""), _negated=True),
                name="feeds_importundone_has_a_reason",
            ),
        ),
        migrations.AddConstraint(
            model_name="rowmended",
            constraint=models.UniqueConstraint(
                fields=("row", "batch"), name="feeds_rowmended_once"
            ),
        ),
        ProtectFacts("ImportBatch", "RowMended", "BroughtIn", "ImportUndone"),
    ]
