"""Fuzz every operation of the schema as each role: ``python -m tests.api.fuzzing --minutes 30``."""
