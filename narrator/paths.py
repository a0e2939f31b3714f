"""Where the program's own data lies: beside the package in a checkout, inside it when installed."""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent
_INSTALLED = _PACKAGE / "_data"
_ROOT = _INSTALLED if _INSTALLED.is_dir() else _PACKAGE.parent

GRAMMARS = _ROOT / "grammars"
MODELS = _ROOT / "models"
SAMPLE_SESSIONS = _ROOT / "sample_sessions"
