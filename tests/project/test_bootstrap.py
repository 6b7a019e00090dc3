"""Setting up on a machine that has nothing: what is chosen and what is said."""

from __future__ import annotations

import importlib.util
import shutil
import sys
from collections import namedtuple
from pathlib import Path

import pytest

from contractor import bootstrap

Version = namedtuple("Version", "major minor micro")
LOCKS = (bootstrap.RUNTIME_LOCK, bootstrap.TEST_LOCK)


def test_old_python_is_told_what_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "version_info", Version(3, 9, 1))
    with pytest.raises(SystemExit) as stop:
        bootstrap.enter_environment("demo")
    assert "3.11 to 3.13; this is 3.9.1" in str(stop.value)


def test_environment_with_the_packages_is_left_alone(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(bootstrap, "VENV", tmp_path / "none")
    monkeypatch.setattr(bootstrap, "_run", lambda command: pytest.fail(str(command)))
    bootstrap.enter_environment("test")
    assert not (tmp_path / "none").exists()


@pytest.mark.parametrize(
    ("uv", "modules", "wanted"),
    [
        ("/bin/uv", set(), ["/bin/uv", "venv"]),
        (None, {"ensurepip", "venv"}, [sys.executable, "-m", "venv"]),
        (None, {"venv", "pip"}, [sys.executable, "-m", "venv", "--without-pip"]),
    ],
)
def test_environment_is_made_with_what_is_there(
    monkeypatch: pytest.MonkeyPatch, uv: str | None, modules: set[str], wanted: list[str]
) -> None:
    ran: list[list[str]] = []
    monkeypatch.setattr(shutil, "which", lambda name: uv)
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: name in modules or None)
    monkeypatch.setattr(bootstrap, "_run", ran.append)
    bootstrap._create_venv()
    assert ran[0][: len(wanted)] == wanted


def test_without_any_way_to_make_one_it_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shutil, "which", lambda name: None)
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)
    with pytest.raises(SystemExit, match="python3-venv"):
        bootstrap._create_venv()


def test_failed_step_is_named(capfd: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit, match="This step failed"):
        bootstrap._run([sys.executable, "-c", "raise SystemExit(3)"])


@pytest.mark.parametrize("lock", LOCKS, ids=lambda lock: lock.parent.name)
def test_locks_pin_by_hash_and_name_no_address(lock: Path) -> None:
    text = lock.read_text()
    assert "://" not in text
    pinned = [line for line in text.splitlines() if line and line[0] not in " #"]
    assert len(pinned) > 40
    assert all("==" in line for line in pinned)
    assert text.count("--hash=sha256:") >= len(pinned)


def test_a_changed_lock_is_installed_again(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    lock = tmp_path / "requirements.lock"
    lock.write_text("a==1")
    monkeypatch.setattr(bootstrap, "VENV", tmp_path)
    (tmp_path / ".tautline").mkdir()
    bootstrap._stamp_path(lock).touch()
    assert bootstrap._stamp(lock) is not None
    lock.write_text("a==2")
    assert bootstrap._stamp(lock) is None


def test_the_lock_for_tests_holds_the_other() -> None:
    pins = [
        {line.split()[0] for line in lock.read_text().splitlines() if "==" in line.split("#")[0]}
        for lock in LOCKS
    ]
    assert pins[0] <= pins[1]
