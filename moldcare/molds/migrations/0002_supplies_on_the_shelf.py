from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("molds", "0001_initial"),
    ]

    operations = [
        migrations.AddField(
            model_name="supply",
            name="place",
            field=models.CharField(blank=True, max_length=60, verbose_name="place on the shelf"),
        ),
        migrations.AddField(
            model_name="supply",
            name="withdrawn_at",
            field=models.DateTimeField(editable=False, null=True),
        ),
        migrations.AddConstraint(
            model_name="supply",
            constraint=models.CheckConstraint(
                condition=models.Q(("minimum__gte", 0)), name="molds_supply_minimum_positive"
            ),
        ),
    ]
