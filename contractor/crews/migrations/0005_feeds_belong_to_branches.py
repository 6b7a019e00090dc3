import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('crews', '0004_branches_of_feeds'),
    ]

    operations = [
        migrations.AlterField(
            model_name='calendarfeed',
            name='branch',
            field=models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to='api.branch'),
        ),
    ]
