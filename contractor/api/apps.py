from django.apps import AppConfig


class ApiConfig(AppConfig):
    name = "contractor.api"
    label = "api"
