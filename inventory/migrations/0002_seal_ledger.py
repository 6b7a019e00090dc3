from django.db import migrations

from inventory import sealing


class Migration(migrations.Migration):
    dependencies = [("inventory", "0001_initial")]

    operations = [migrations.RunPython(sealing.seal, sealing.unseal)]
