from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('audit', '0006_marks_of_standings'),
    ]

    operations = [
        migrations.AddField(
            model_name='binderjob',
            name='extent',
            field=models.CharField(db_default='inspector', default='inspector', max_length=12),
        ),
    ]
