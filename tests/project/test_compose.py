"""docker-compose.yml is parsed and held against the settings; no Docker engine runs here."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import yaml

from tests.project.test_settings import keys_of_example

ROOT = Path(__file__).resolve().parents[2]
# Variables of the compose file that are no setting of ours.
OWN = {"POSTGRES_PASSWORD", "REDIS_PASSWORD"}


def compose() -> dict[str, Any]:
    document: dict[str, Any] = yaml.safe_load((ROOT / "docker-compose.yml").read_text())
    return document


def test_every_service_waits_for_what_exists() -> None:
    services = compose()["services"]
    assert set(services) == {"database", "broker", "migrate", "web", "worker", "clock"}
    for name, service in services.items():
        waits_for = set(service.get("depends_on", {}))
        assert waits_for <= set(services), name


def test_settings_named_in_compose_exist() -> None:
    for name in ("web", "worker", "clock", "migrate"):
        assert set(compose()["services"][name]["environment"]) <= keys_of_example()


def test_secrets_have_no_default() -> None:
    text = (ROOT / "docker-compose.yml").read_text()
    for name in ("SECRET_KEY", *sorted(OWN)):
        assert f"${{{name}:?" in text
        assert f"${{{name}:-" not in text


def test_nothing_but_the_web_is_published() -> None:
    published = {
        name: service["ports"]
        for name, service in compose()["services"].items()
        if "ports" in service
    }
    assert published == {"web": ["127.0.0.1:8000:8000"]}
