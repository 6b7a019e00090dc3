"""The typed client: generated from the schema in the test run, by a general-purpose generator."""

from __future__ import annotations

import atexit
import json
import os
import subprocess
import sys
import tempfile
from functools import cache
from pathlib import Path

from drf_spectacular.generators import SchemaGenerator
from drf_spectacular.renderers import OpenApiJsonRenderer

PACKAGE = "tautline_client"
BIN = Path(sys.executable).parent
# Drawings and printed sheets are passed on as bytes and text.
OVERRIDES = {
    "application/pdf": "application/octet-stream",
    "image/jpeg": "application/octet-stream",
    "image/svg+xml": "text/html",
}


@cache
def client_folder() -> Path:
    """Generate the client once per run; return the folder to put on the import path.

    Raises AssertionError with the generator's words when it had to leave something out.
    """
    kept = tempfile.TemporaryDirectory(prefix="client-")
    atexit.register(kept.cleanup)
    folder = Path(kept.name)
    schema, config = folder / "schema.json", folder / "config.json"
    document = SchemaGenerator().get_schema(request=None, public=True)  # type: ignore[no-untyped-call]
    schema.write_bytes(OpenApiJsonRenderer().render(document))
    config.write_text(json.dumps({"post_hooks": [], "content_type_overrides": OVERRIDES}))
    command = [str(BIN / "openapi-python-client"), "generate", "--meta", "none"]
    command += ["--path", str(schema), "--config", str(config), "--fail-on-warning"]
    done = subprocess.run(
        [*command, "--output-path", str(folder / PACKAGE)],
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
        cwd=folder,
    )
    assert done.returncode == 0, done.stdout[-3000:] + done.stderr[-3000:]
    return folder


def type_faults(path: Path) -> str:
    """Return what a strict type check of ``path`` and the client says, "" when all is well."""
    folder = client_folder()
    command = [sys.executable, "-m", "mypy", "--strict", "--config-file", os.devnull]
    command += ["--cache-dir", str(folder / "cache"), "--no-namespace-packages", str(path)]
    done = subprocess.run(
        command,
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
        cwd=path.parent,
        env={**os.environ, "MYPYPATH": str(folder)},
    )
    return "" if done.returncode == 0 else done.stdout + done.stderr
