from django.apps.registry import Apps
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor

from moldcare.facts import OpenFacts, ProtectFacts


def name_the_currency(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    """Give the rates that are there the currency that they were shown in so far."""
    plant = apps.get_model("plant", "Plant").objects.filter(pk=1).first()
    if plant is not None:
        apps.get_model("plant", "Rate").objects.update(currency=plant.currency)


class Migration(migrations.Migration):
    dependencies = [
        ("plant", "0002_days_and_cautions"),
    ]

    operations = [
        OpenFacts("ShiftPattern", "Rate"),
        migrations.AlterModelOptions(
            name="shiftpattern",
            options={"ordering": ["valid_from", "id"]},
        ),
        migrations.RemoveConstraint(
            model_name="rate",
            name="plant_rate_once",
        ),
        migrations.RemoveConstraint(
            model_name="rate",
            name="plant_rate_general_once",
        ),
        migrations.RemoveConstraint(
            model_name="rate",
            name="plant_rate_positive",
        ),
        migrations.AddField(
            model_name="rate",
            name="currency",
            field=models.CharField(default="EUR", max_length=3),
            preserve_default=False,
        ),
        migrations.AddField(
            model_name="shiftpattern",
            name="is_taken_back",
            field=models.BooleanField(default=False),
        ),
        migrations.AlterField(
            model_name="rate",
            name="amount",
            field=models.DecimalField(decimal_places=2, max_digits=12, null=True),
        ),
        migrations.AlterField(
            model_name="shiftpattern",
            name="valid_from",
            field=models.DateField(),
        ),
        migrations.AddIndex(
            model_name="rate",
            index=models.Index(fields=["kind", "spot", "valid_from"], name="plant_rate_newest"),
        ),
        migrations.AddConstraint(
            model_name="rate",
            constraint=models.CheckConstraint(
                condition=models.Q(("amount__gte", 0), ("amount__isnull", True), _connector="OR"),
                name="plant_rate_positive",
            ),
        ),
        migrations.AddConstraint(
            model_name="rate",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("amount__isnull", False), ("spot__isnull", False), _connector="OR"
                ),
                name="plant_rate_general_has_amount",
            ),
        ),
        migrations.AddConstraint(
            model_name="rate",
            constraint=models.CheckConstraint(
                condition=models.Q(("currency", ""), _negated=True), name="plant_rate_currency"
            ),
        ),
        migrations.RunPython(name_the_currency, migrations.RunPython.noop),
        ProtectFacts("ShiftPattern", "Rate"),
    ]
