"""The environment, and what must not start."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
READ = re.compile(r"env\.[a-z]+\(\s*[\"']([A-Z_]+)")


def keys_of_example() -> set[str]:
    lines = (ROOT / ".env.example").read_text().splitlines()
    return {line.split("=")[0] for line in lines if line and not line.startswith("#")}


def test_env_example_holds_every_key_that_settings_read() -> None:
    assert set(READ.findall((ROOT / "contractor/settings.py").read_text())) == keys_of_example()


def start(**environment: str) -> subprocess.CompletedProcess[str]:
    clean = {k: v for k, v in os.environ.items() if k not in keys_of_example()}
    code = "import django; django.setup()"
    return subprocess.run(
        [sys.executable, "-c", code],
        env={**clean, "DJANGO_SETTINGS_MODULE": "contractor.settings", **environment},
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.mark.parametrize(
    ("environment", "names"),
    [
        ({"DEBUG": "false"}, "SECRET_KEY"),
        ({"DEBUG": "false", "SECRET_KEY": "x" * 50, "ALLOWED_HOSTS": "*"}, "ALLOWED_HOSTS"),
    ],
)
def test_production_refuses_demo_settings(environment: dict[str, str], names: str) -> None:
    result = start(**environment)
    assert result.returncode != 0
    assert "ImproperlyConfigured" in result.stderr
    assert names in result.stderr


def test_production_starts_on_its_own_key(tmp_path: Path) -> None:
    result = start(DEBUG="false", SECRET_KEY="x" * 50, STATE_DIR=str(tmp_path))
    assert result.returncode == 0, result.stderr


def test_engine_imports_without_django_and_quickly() -> None:
    code = (
        "import sys, pkgutil, importlib, contractor.engine as e\n"
        "import contractor.engine.layout, contractor.engine.screening, contractor.engine.cutting\n"
        "import contractor.engine.rostering, contractor.engine.materials\n"
        "bad = {'django', 'celery', 'rest_framework', 'ortools', 'highspy', 'pyvrp', 'pandas'}\n"
        "print(sorted(bad & set(sys.modules)))"
    )
    result = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert result.stdout.strip() == "[]"
