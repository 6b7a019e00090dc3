"""Make `.venv` from the lock file and start again inside it. Standard library only.

Nothing happens in an environment that already has the packages.
"""

from __future__ import annotations

import hashlib
import importlib.util
import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
OLDEST, NEWEST = (3, 11), (3, 13)
RUNTIME_LOCK = ROOT / "requirements.lock"
TEST_LOCK = ROOT / "tests" / "requirements.lock"
# A lock names every package, so nothing is left to resolve; modules compile when first imported.
PIP_INSTALL = ["pip", "install", "--disable-pip-version-check", "--no-compile"]


def enter_environment(command: str) -> None:
    """Return when the packages for ``command`` can be imported; else set up and re-start."""
    _refuse_wrong_python()
    lock = TEST_LOCK if command == "test" else RUNTIME_LOCK
    if _inside_venv():
        if _is_ours():
            _keep_bytecode()
            if _stamp(lock) is None:
                _install(lock)
        return
    if _has_packages(lock):
        return
    _create_and_install(lock)
    python = _venv_python()
    os.execv(python, [str(python), str(ROOT / "manage.py"), *sys.argv[1:]])


def _refuse_wrong_python() -> None:
    if not OLDEST <= sys.version_info[:2] <= NEWEST:
        found = ".".join(map(str, sys.version_info[:3]))
        sys.exit(
            f"Tautline runs on Python 3.11 to 3.13; this is {found}. "
            "Install one of those and run: python3.11 manage.py " + " ".join(sys.argv[1:])
        )


def _has_packages(lock: Path) -> bool:
    names = ["django", "rest_framework", "celery", "pint", "ortools", "pyvrp"]
    if lock == TEST_LOCK:
        names += ["pytest", "hypothesis", "mypy"]
    return all(importlib.util.find_spec(name) is not None for name in names)


def _inside_venv() -> bool:
    return Path(sys.prefix).resolve() == VENV.resolve()


def _is_ours() -> bool:
    return (VENV / ".tautline").is_dir()


def _keep_bytecode() -> None:
    """Compile each module once, into our own environment and never beside the sources.

    Where PYTHONDONTWRITEBYTECODE is set, every start would compile everything again.
    """
    sys.dont_write_bytecode = False
    sys.pycache_prefix = str(VENV / ".tautline" / "bytecode")
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    os.environ["PYTHONPYCACHEPREFIX"] = sys.pycache_prefix


def _stamp_path(lock: Path) -> Path:
    digest = hashlib.sha256(lock.read_bytes()).hexdigest()[:20]
    return VENV / ".tautline" / f"{lock.parent.name}-{digest}"


def _stamp(lock: Path) -> Path | None:
    """Return the mark left by a finished installation of exactly this lock file."""
    path = _stamp_path(lock)
    return path if path.exists() else None


def _venv_python() -> Path:
    windows = VENV / "Scripts" / "python.exe"
    return windows if windows.exists() else VENV / "bin" / "python"


def _create_and_install(lock: Path) -> None:
    if not _venv_python().exists():
        print(f"Making the environment {VENV.name}/ (once) ...", flush=True)
        _create_venv()
    if _stamp(lock) is None:
        _install(lock)


def _create_venv() -> None:
    uv = shutil.which("uv")
    if uv:
        _run([uv, "venv", "--quiet", "--python", sys.executable, str(VENV)])
    elif importlib.util.find_spec("ensurepip"):
        _run([sys.executable, "-m", "venv", str(VENV)])
    elif importlib.util.find_spec("venv") and importlib.util.find_spec("pip"):
        _run([sys.executable, "-m", "venv", "--without-pip", str(VENV)])
    else:
        sys.exit(
            "This Python has neither uv nor venv with pip. Install one of them "
            "(Debian and Ubuntu: apt install python3-venv) and run the command again."
        )


def _install(lock: Path) -> None:
    print(f"Installing packages from {lock.relative_to(ROOT)} (hash-checked) ...", flush=True)
    uv, python = shutil.which("uv"), str(_venv_python())
    arguments = ["--quiet", "--no-deps", "--require-hashes", "-r", str(lock)]
    if uv:
        _run([uv, "pip", "install", "--python", python, *arguments])
    elif (VENV / "bin" / "pip").exists() or (VENV / "Scripts" / "pip.exe").exists():
        _run([python, "-m", *PIP_INSTALL, *arguments])
    else:
        _run([sys.executable, "-m", "pip", "--python", python, *PIP_INSTALL[1:], *arguments])
    _stamp_path(lock).parent.mkdir(exist_ok=True)
    _stamp_path(lock).touch()
    _stamp_path(RUNTIME_LOCK).touch()  # the lock for tests holds all of it


def _run(command: list[str]) -> None:
    result = subprocess.run(command, check=False)
    if result.returncode:
        sys.exit(
            f"This step failed: {' '.join(command)}\n"
            "Read the message above; most often the network or the package index was out of "
            "reach. Run the same command again when it is back: what is finished is kept."
        )
