"""The generated client on the import path."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.client.generating import client_folder


@pytest.fixture(scope="session")
def client_package() -> Path:
    """Return the folder that holds the package."""
    return client_folder()
