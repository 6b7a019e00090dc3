from django.db import migrations


def take_branch_of_crew(apps, schema_editor):
    for feed in apps.get_model("crews", "CalendarFeed").objects.filter(branch__isnull=True):
        feed.branch_id = feed.crew.branch_id
        feed.save(update_fields=["branch"])


class Migration(migrations.Migration):

    dependencies = [
        ('crews', '0003_replanning_and_service'),
    ]

    operations = [
        migrations.RunPython(take_branch_of_crew, migrations.RunPython.noop),
    ]
