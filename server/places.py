"""Templates, static files, migrations: beside the package, or inside it in a wheel."""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent
_ROOT = _PACKAGE if (_PACKAGE / "templates").is_dir() else _PACKAGE.parent

TEMPLATES = _ROOT / "templates"
STATIC = _ROOT / "static"
MIGRATIONS = _ROOT / "migrations"
