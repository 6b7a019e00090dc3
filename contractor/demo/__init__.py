"""The scenario behind ``manage.py demo``, worked through the same services as the API."""
