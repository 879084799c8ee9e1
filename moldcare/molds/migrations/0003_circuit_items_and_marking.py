import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from moldcare.facts import ProtectFacts


class Migration(migrations.Migration):
    dependencies = [
        ("files", "0001_initial"),
        ("logbook", "0001_initial"),
        ("molds", "0002_supplies_on_the_shelf"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddField(
            model_name="circuit",
            name="couplings",
            field=models.CharField(blank=True, max_length=60, verbose_name="couplings"),
        ),
        migrations.CreateModel(
            name="MarkingPhoto",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("at", models.DateTimeField()),
                ("shows", models.CharField(blank=True, max_length=200)),
                ("written_at", models.DateTimeField()),
                (
                    "entry",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="logbook.entry",
                    ),
                ),
                (
                    "file",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="files.file",
                    ),
                ),
                (
                    "mold",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="marking_photos",
                        to="molds.mold",
                    ),
                ),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["at", "id"],
            },
        ),
        migrations.CreateModel(
            name="CircuitItem",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("place", models.PositiveSmallIntegerField(verbose_name="place along the path")),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("bubbler", "bubbler"),
                            ("straight_baffle", "straight baffle"),
                            ("spiral_baffle", "spiral baffle"),
                        ],
                        max_length=16,
                        verbose_name="kind",
                    ),
                ),
                ("number", models.CharField(max_length=20, verbose_name="number")),
                ("at", models.CharField(blank=True, max_length=60, verbose_name="where it sits")),
                (
                    "circuit",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="items",
                        to="molds.circuit",
                    ),
                ),
                (
                    "position",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="circuit_items",
                        to="molds.position",
                    ),
                ),
            ],
            options={
                "ordering": ["circuit", "place"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("circuit", "place"), name="molds_circuititem_place"
                    ),
                    models.UniqueConstraint(
                        fields=("circuit", "kind", "number"), name="molds_circuititem_number_once"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("place__gte", 1)), name="molds_circuititem_place_from_1"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(("position__isnull", True), ("at", ""), _connector="OR"),
                        name="molds_circuititem_sits_in_one_place",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("kind__in", ["bubbler", "straight_baffle", "spiral_baffle"])
                        ),
                        name="molds_circuititem_kind_known",
                    ),
                ],
            },
        ),
        ProtectFacts("MarkingPhoto"),
    ]
