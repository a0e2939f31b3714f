"""Installs a Vosk model from the user's zip file or folder: checked first, then moved in one step."""

from __future__ import annotations

import os
import re
import shutil
import stat
import tempfile
import zipfile
from collections.abc import Callable
from pathlib import Path, PurePosixPath

from narrator.errors import NarratorError
from narrator.hearing.models import MANIFEST, VOSK_MARK, Manifest, folder_bytes, models_home, sha256
from narrator.settings import Settings

_MB = 1_000_000


def install_model(
    path: Path,
    settings: Settings,
    name: str | None = None,
    *,
    known: Manifest | None = None,
    check: Callable[[Path], None],
) -> Path:
    """Install the model in ``path`` under ``name`` (by default its own) and return its folder.

    ``check`` loads the model and raises when it cannot be used; only then is it moved into place. ``known``
    is a shipped manifest of the same name, which gives licence and source.

    Raises:
        NarratorError: E101, E211 (no model), E212 (unsafe archive), E213 (installed already), E215 (no room),
            E217 (bad name), or what ``check`` raises. Nothing is left behind then.
    """
    home = models_home(settings)
    home.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=".incoming-", dir=home) as staging:
        unpacked = Path(staging) / "model"
        _bring(path, unpacked)
        root = _model_root(unpacked, path)
        own = path.stem if path.is_file() else path.resolve().name
        final = home / _checked_name(name or (root.name if root != unpacked else own))
        if final.exists():
            raise NarratorError("E213", name=final.name, path=final)
        try:
            check(root)
        except NarratorError as error:
            raise NarratorError("E211", path=path, why=error.message) from error
        _write_manifest(root, final.name, known)
        root.replace(final)
    return final


def _checked_name(name: str) -> str:
    if not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9._-]*", name):
        raise NarratorError("E217", name=repr(name))
    return name


def _bring(path: Path, to: Path) -> None:
    """Copy a folder or unpack a zip file to ``to``."""
    if path.is_dir():
        _require_room(path, folder_bytes(path), to.parent)
        # Links are followed, so that what is installed does not depend on the place it came from.
        shutil.copytree(path, to)
    elif not path.is_file():
        raise NarratorError("E101", path=path)
    else:
        try:
            with zipfile.ZipFile(path) as archive:
                _unpack(archive, path, to)
        except (zipfile.BadZipFile, EOFError, NotImplementedError, RuntimeError) as error:
            raise NarratorError("E211", path=path, why=f"not a readable zip file ({error})") from error


def _unpack(archive: zipfile.ZipFile, path: Path, to: Path) -> None:
    members = archive.infolist()
    for member in members:
        name = PurePosixPath(member.filename.replace("\\", "/"))
        link = stat.S_ISLNK(member.external_attr >> 16)
        if name.is_absolute() or ".." in name.parts or re.match(r"[A-Za-z]:", member.filename) or link:
            raise NarratorError("E212", path=path, member=member.filename)
    _require_room(path, sum(member.file_size for member in members), to.parent)
    archive.extractall(to)


def _require_room(path: Path, needed: int, folder: Path) -> None:
    free = shutil.disk_usage(folder).free
    if needed > free:
        raise NarratorError("E215", path=path, needed_mb=needed // _MB, free_mb=free // _MB)


def _model_root(unpacked: Path, path: Path) -> Path:
    """The folder that holds the model: the given one, or the only one inside it that does."""
    for candidate in [unpacked, *sorted(p for p in unpacked.iterdir() if p.is_dir())]:
        if (candidate / VOSK_MARK).is_file():
            return candidate
    raise NarratorError("E211", path=path, why=f"no {VOSK_MARK.as_posix()} in it")


def _write_manifest(root: Path, name: str, known: Manifest | None) -> None:
    """Record the sha256 of what was installed, so that later damage is noticed."""
    files = sorted(p for p in root.rglob("*") if p.is_file() and p.name != MANIFEST)
    lines = {
        "name": name,
        "engine": "vosk",
        "language": known.language if known else _language(name),
        "licence": known.licence if known else "not stated: see the model's README",
        "source": known.source if known else "installed by the user",
        "get": "installed",
    }
    text = "".join(f"{key} = {_toml(value)}\n" for key, value in lines.items())
    text += f"bytes = {sum(p.stat().st_size for p in files)}\n\n[files]\n"
    text += "".join(f"{_toml(p.relative_to(root).as_posix())} = {_toml(sha256(p))}\n" for p in files)
    with (root / MANIFEST).open("w", encoding="utf-8") as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())


def _language(name: str) -> str:
    """The language in a usual Vosk model name (vosk-model-small-en-us-0.15), else undetermined."""
    found = re.match(r"vosk-model-(?:small-|big-|spk-)?([a-z]{2,3})(?:-([a-z]{2})(?=-))?", name)
    return "-".join(part for part in found.groups() if part) if found else "und"


def _toml(text: str) -> str:
    """A basic TOML string."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in escaped) + '"'
