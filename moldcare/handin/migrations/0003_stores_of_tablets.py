from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("handin", "0002_tablets"),
    ]

    operations = [
        migrations.AddField(
            model_name="tablet",
            name="lost",
            field=models.PositiveIntegerField(default=0),
        ),
        migrations.AddField(
            model_name="tablet",
            name="store",
            field=models.CharField(blank=True, max_length=36),
        ),
    ]
