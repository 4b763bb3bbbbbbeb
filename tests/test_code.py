"""What holds for the code itself: which module may import which, style, format and types."""

from __future__ import annotations

import subprocess
import sys

from server.settings import ROOT


def passes(*command: str) -> None:
    ran = subprocess.run([sys.executable, *command], cwd=ROOT, capture_output=True, text=True)
    assert ran.returncode == 0, ran.stdout + ran.stderr


def test_imports_point_one_way() -> None:
    """The contracts, and what they are for, stand in pyproject.toml under importlinter."""
    passes("-c", "from importlinter.cli import lint_imports_command as run; run()", "--no-cache")


def test_a_start_loads_nothing_that_is_needed_only_now_and_then() -> None:
    """Each of these is imported inside the function that needs it; together they were a fifth of the time to start."""
    now_and_then = {"alembic", "cryptography", "numpy", "PIL", "scipy", "segno"}
    passes("-c", f"import sys, server.cli; found = {now_and_then} & sys.modules.keys(); assert not found, found")


def test_the_style_is_kept() -> None:
    passes("-m", "ruff", "check", "--no-cache", ".")


def test_the_format_is_kept() -> None:
    passes("-m", "ruff", "format", "--check", "--no-cache", ".")


def test_the_types_of_calculations_and_rules_are_sound() -> None:
    """Which packages, and that it is strict, stands in pyproject.toml under mypy."""
    passes("-m", "mypy")
