import django.contrib.auth.models
import django.contrib.auth.validators
import django.core.serializers.json
import django.db.models.deletion
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    initial = True

    dependencies = [
        ('auth', '0012_alter_user_first_name_max_length'),
    ]

    operations = [
        migrations.CreateModel(
            name='Company',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('version', models.PositiveBigIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('updated_at', models.DateTimeField(auto_now=True)),
                ('name', models.CharField(max_length=120)),
                ('units', models.CharField(choices=[('us', 'US'), ('si', 'SI')], default='us', max_length=2)),
                ('settings', models.JSONField(blank=True, default=dict)),
            ],
            options={
                'verbose_name_plural': 'companies',
                'indexes': [],
                'constraints': [],
            },
        ),
        migrations.CreateModel(
            name='User',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('password', models.CharField(max_length=128, verbose_name='password')),
                ('last_login', models.DateTimeField(blank=True, null=True, verbose_name='last login')),
                ('is_superuser', models.BooleanField(default=False, help_text='Designates that this user has all permissions without explicitly assigning them.', verbose_name='superuser status')),
                ('username', models.CharField(error_messages={'unique': 'A user with that username already exists.'}, help_text='Required. 150 characters or fewer. Letters, digits and @/./+/-/_ only.', max_length=150, unique=True, validators=[django.contrib.auth.validators.UnicodeUsernameValidator()], verbose_name='username')),
                ('first_name', models.CharField(blank=True, max_length=150, verbose_name='first name')),
                ('last_name', models.CharField(blank=True, max_length=150, verbose_name='last name')),
                ('email', models.EmailField(blank=True, max_length=254, verbose_name='email address')),
                ('is_staff', models.BooleanField(default=False, help_text='Designates whether the user can log into this admin site.', verbose_name='staff status')),
                ('is_active', models.BooleanField(default=True, help_text='Designates whether this user should be treated as active. Unselect this instead of deleting accounts.', verbose_name='active')),
                ('date_joined', models.DateTimeField(default=django.utils.timezone.now, verbose_name='date joined')),
                ('version', models.PositiveBigIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('updated_at', models.DateTimeField(auto_now=True)),
                ('groups', models.ManyToManyField(blank=True, help_text='The groups this user belongs to. A user will get all permissions granted to each of their groups.', related_name='user_set', related_query_name='user', to='auth.group', verbose_name='groups')),
                ('user_permissions', models.ManyToManyField(blank=True, help_text='Specific permissions for this user.', related_name='user_set', related_query_name='user', to='auth.permission', verbose_name='user permissions')),
            ],
            options={
                'abstract': False,
                'indexes': [],
                'constraints': [],
            },
            managers=[
                ('objects', django.contrib.auth.models.UserManager()),
            ],
        ),
        migrations.CreateModel(
            name='RememberedAnswer',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('principal', models.CharField(max_length=40)),
                ('method', models.CharField(max_length=8)),
                ('path', models.CharField(max_length=300)),
                ('key', models.CharField(max_length=200)),
                ('fingerprint', models.CharField(max_length=64)),
                ('status', models.PositiveSmallIntegerField()),
                ('headers', models.JSONField(default=dict)),
                ('body', models.TextField()),
                ('is_sealed', models.BooleanField(default=False)),
                ('created_at', models.DateTimeField(db_index=True, default=django.utils.timezone.now)),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('principal', 'method', 'path', 'key'), name='answer_once_per_key')],
                'indexes': [],
            },
        ),
        migrations.CreateModel(
            name='Branch',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('version', models.PositiveBigIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('updated_at', models.DateTimeField(auto_now=True)),
                ('company', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='branches', to='api.company')),
                ('name', models.CharField(max_length=120)),
                ('time_zone', models.CharField(default='America/New_York', max_length=64)),
                ('latitude', models.FloatField(blank=True, null=True)),
                ('longitude', models.FloatField(blank=True, null=True)),
            ],
            options={
                'verbose_name_plural': 'branches',
                'constraints': [models.UniqueConstraint(fields=('company', 'name'), name='branch_name_once')],
                'indexes': [],
            },
        ),
        migrations.CreateModel(
            name='CalculationRun',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('version', models.PositiveBigIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('updated_at', models.DateTimeField(auto_now=True)),
                ('user', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('name', models.CharField(max_length=40)),
                ('units', models.CharField(max_length=2)),
                ('seconds', models.FloatField()),
                ('document', models.JSONField()),
                ('status', models.CharField(choices=[('waiting', 'Waiting'), ('running', 'Running'), ('done', 'Done'), ('failed', 'Failed'), ('cancelled', 'Cancelled')], default='waiting', max_length=10)),
                ('attempts', models.PositiveSmallIntegerField(default=0)),
                ('lease_until', models.DateTimeField(null=True)),
                ('progress', models.JSONField(default=dict)),
                ('answer', models.JSONField(null=True)),
                ('problem', models.JSONField(null=True)),
            ],
            options={
                'indexes': [models.Index(fields=['status', 'created_at'], name='api_calcula_status_fe0cbd_idx')],
                'constraints': [],
            },
        ),
        migrations.CreateModel(
            name='AuditEntry',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('at', models.DateTimeField(db_index=True, default=django.utils.timezone.now)),
                ('actor', models.CharField(max_length=80)),
                ('subject', models.CharField(db_index=True, max_length=80)),
                ('subject_version', models.PositiveBigIntegerField(default=1)),
                ('company', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to='api.company')),
                ('branch', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to='api.branch')),
                ('what', models.CharField(choices=[('created', 'Created'), ('changed', 'Changed'), ('deleted', 'Deleted')], max_length=10)),
                ('before', models.JSONField(default=dict, encoder=django.core.serializers.json.DjangoJSONEncoder)),
                ('after', models.JSONField(default=dict, encoder=django.core.serializers.json.DjangoJSONEncoder)),
            ],
            options={
                'verbose_name_plural': 'audit entries',
                'ordering': ['id'],
                'indexes': [],
                'constraints': [],
            },
        ),
        migrations.CreateModel(
            name='Membership',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('version', models.PositiveBigIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('updated_at', models.DateTimeField(auto_now=True)),
                ('user', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='memberships', to=settings.AUTH_USER_MODEL)),
                ('branch', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='memberships', to='api.branch')),
                ('role', models.CharField(choices=[('owner', 'Owner'), ('office', 'Office'), ('warehouse', 'Warehouse'), ('crew', 'Crew'), ('read_only', 'Read Only'), ('integration', 'Integration')], max_length=20)),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('user', 'branch', 'role'), name='membership_once')],
                'indexes': [],
            },
        ),
        migrations.CreateModel(
            name='Event',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('company', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='api.company')),
                ('branch', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='api.branch')),
                ('kind', models.CharField(max_length=60)),
                ('subject', models.CharField(db_index=True, max_length=60)),
                ('subject_version', models.PositiveBigIntegerField(default=1)),
                ('actor', models.CharField(default='system', max_length=80)),
                ('data', models.JSONField(default=dict)),
                ('at', models.DateTimeField(db_index=True)),
                ('position', models.PositiveBigIntegerField(null=True, unique=True)),
            ],
            options={
                'ordering': ['id'],
                'indexes': [],
                'constraints': [],
            },
        ),
        migrations.CreateModel(
            name='Token',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('version', models.PositiveBigIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('updated_at', models.DateTimeField(auto_now=True)),
                ('user', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='tokens', to=settings.AUTH_USER_MODEL)),
                ('branch', models.ForeignKey(null=True, on_delete=django.db.models.deletion.CASCADE, related_name='+', to='api.branch')),
                ('name', models.CharField(max_length=80)),
                ('hint', models.CharField(max_length=12)),
                ('digest', models.CharField(max_length=64, unique=True)),
                ('scopes', models.JSONField(default=list)),
                ('expires_at', models.DateTimeField()),
                ('revoked_at', models.DateTimeField(null=True)),
                ('last_used_at', models.DateTimeField(null=True)),
                ('replaces', models.ForeignKey(null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='+', to='api.token')),
            ],
            options={
                'abstract': False,
                'indexes': [],
                'constraints': [],
            },
        ),
        migrations.CreateModel(
            name='WebhookEndpoint',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('version', models.PositiveBigIntegerField(default=1, editable=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('updated_at', models.DateTimeField(auto_now=True)),
                ('company', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to='api.company')),
                ('branch', models.ForeignKey(null=True, on_delete=django.db.models.deletion.CASCADE, related_name='+', to='api.branch')),
                ('url', models.CharField(max_length=500)),
                ('description', models.CharField(blank=True, max_length=200)),
                ('kinds', models.JSONField(default=list)),
                ('secret', models.TextField()),
                ('old_secret', models.TextField(blank=True)),
                ('old_secret_until', models.DateTimeField(null=True)),
                ('status', models.CharField(choices=[('active', 'Active'), ('paused', 'Paused'), ('disabled', 'Disabled')], default='active', max_length=10)),
                ('status_reason', models.CharField(blank=True, max_length=200)),
                ('failing_since', models.DateTimeField(null=True)),
                ('hold_until', models.DateTimeField(null=True)),
            ],
            options={
                'abstract': False,
                'indexes': [],
                'constraints': [],
            },
        ),
        migrations.CreateModel(
            name='WebhookDelivery',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('endpoint', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='deliveries', to='api.webhookendpoint')),
                ('event', models.ForeignKey(null=True, on_delete=django.db.models.deletion.CASCADE, related_name='+', to='api.event')),
                ('message_id', models.CharField(max_length=60, unique=True)),
                ('kind', models.CharField(max_length=60)),
                ('subject', models.CharField(max_length=60)),
                ('position', models.PositiveBigIntegerField()),
                ('body', models.TextField()),
                ('status', models.CharField(choices=[('pending', 'Pending'), ('delivered', 'Delivered'), ('failed', 'Failed')], default='pending', max_length=10)),
                ('attempts', models.PositiveIntegerField(default=0)),
                ('next_at', models.DateTimeField()),
                ('last_outcome', models.CharField(blank=True, max_length=40)),
                ('delivered_at', models.DateTimeField(null=True)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
            ],
            options={
                'verbose_name_plural': 'webhook deliveries',
                'indexes': [models.Index(fields=['status', 'next_at'], name='api_webhook_status_e2c9a7_idx'), models.Index(fields=['endpoint', 'subject', 'status', 'position'], name='api_webhook_endpoin_4e3c74_idx')],
                'constraints': [],
            },
        ),
        migrations.CreateModel(
            name='WebhookAttempt',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('delivery', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='log', to='api.webhookdelivery')),
                ('number', models.PositiveIntegerField()),
                ('at', models.DateTimeField()),
                ('duration_ms', models.PositiveIntegerField()),
                ('http_status', models.PositiveSmallIntegerField(null=True)),
                ('outcome', models.CharField(max_length=40)),
            ],
            options={
                'ordering': ['id'],
                'indexes': [],
                'constraints': [],
            },
        ),
    ]
