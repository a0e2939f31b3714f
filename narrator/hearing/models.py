"""Which recognizer models are here, which could be had, and whether their files are what they should be."""

from __future__ import annotations

import hashlib
import importlib.util
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from narrator.errors import NarratorError
from narrator.paths import MODELS
from narrator.settings import Settings

MANIFEST = "narrator-model.toml"
"""Written beside the files of a model that was installed from an archive or folder."""
VOSK_MARK = Path("am") / "final.mdl"
MOONSHINE_MARK = "encoder_model.ort"
WHISPER_MARKS = ("model.bin", "config.json", "tokenizer.json")


class Manifest(BaseModel):
    """One model: what it is, under which licence, where it comes from, and the sha256 of its files."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    name: str
    engine: Literal["moonshine", "vosk"]
    language: str = Field(description="BCP 47 tag.")
    bytes: int = Field(description="Size of its files.")
    licence: str = Field(description="SPDX identifier, or a short statement.")
    source: str = Field(description="Where it comes from, in words.")
    get: str = Field(description="What to do to have it.")
    role: Literal["dictation", "second-ear", "encoder"] = "dictation"
    package: str | None = Field(None, description="Python package that carries it, if one does.")
    folder: str | None = Field(None, description="Its folder inside the package.")
    files: dict[str, str] = Field(default_factory=dict, description="File to sha256 (hexadecimal).")


@dataclass(frozen=True, slots=True)
class Found:
    """A model that is known or present. ``path`` is None where it could be had but is not here."""

    manifest: Manifest
    path: Path | None


def models_home(settings: Settings) -> Path:
    """The folder into which models are installed."""
    return settings.home / "models"


def read_manifest(path: Path) -> Manifest:
    """Read one manifest.

    Raises:
        NarratorError: E216 when it cannot be understood.
    """
    try:
        return Manifest.model_validate(tomllib.loads(path.read_text(encoding="utf-8")))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise NarratorError("E216", path=path, why=error) from error
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(part) for part in first["loc"])
        raise NarratorError("E216", path=path, why=f"{where}: {first['msg']}") from error


def list_models(settings: Settings, shipped: Path = MODELS) -> list[Found]:
    """Every model of the shipped manifests and every one installed, by name."""
    found: dict[str, Found] = {}
    for path in sorted(shipped.glob("*.toml")):
        manifest = read_manifest(path)
        found[manifest.name] = Found(manifest, _where(manifest, settings, shipped))
    for path in sorted(models_home(settings).glob(f"*/{MANIFEST}")):
        manifest = read_manifest(path)
        found[manifest.name] = Found(manifest, path.parent)
    return [found[name] for name in sorted(found)]


def _where(manifest: Manifest, settings: Settings, shipped: Path) -> Path | None:
    if manifest.package:
        return package_folder(manifest.package, manifest.folder or ".")
    for root in (models_home(settings), shipped):
        if (root / manifest.name / next(iter(manifest.files), VOSK_MARK)).is_file():
            return root / manifest.name
    return None


def package_folder(package: str, folder: str) -> Path | None:
    """A folder inside an installed package, found without importing it; None where it is missing."""
    spec = importlib.util.find_spec(package)
    if spec is None or spec.origin is None:
        return None
    path = Path(spec.origin).parent / folder
    return path if path.is_dir() else None


def mismatches(found: Found) -> list[str]:
    """Files of a present model that are missing or differ from its manifest, with the reason."""
    if found.path is None:
        return []
    problems = []
    for name, digest in found.manifest.files.items():
        path = found.path / name
        if not path.is_file():
            problems.append(f"{found.manifest.name}/{name} (missing)")
        elif sha256(path) != digest:
            problems.append(f"{found.manifest.name}/{name} (differs)")
    return problems


def sha256(path: Path) -> str:
    """The file's digest in hexadecimal."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def engine_of(folder: Path) -> str:
    """The engine that a model folder is for.

    Raises:
        NarratorError: E205 when it looks like none.
    """
    if (folder / VOSK_MARK).is_file():
        return "vosk"
    if (folder / MOONSHINE_MARK).is_file():
        return "moonshine"
    if (folder / WHISPER_MARKS[0]).is_file():
        return "whisper"
    why = f"it holds none of {VOSK_MARK.as_posix()}, {MOONSHINE_MARK} and {WHISPER_MARKS[0]}"
    raise NarratorError("E205", path=folder, why=why)


def vosk_folders(settings: Settings, shipped: Path = MODELS) -> Iterator[Path]:
    """Folders of Vosk models for dictation: the one of the settings, then installed ones, largest first."""
    if settings.vosk_model is not None:
        yield settings.vosk_model
    here = [
        mark.parents[1] for root in (models_home(settings), shipped) for mark in root.glob(f"*/{VOSK_MARK}")
    ]
    other = {found.path for found in list_models(settings, shipped) if found.manifest.role != "dictation"}
    yield from sorted(
        (path for path in here if path not in other), key=lambda path: (-folder_bytes(path), path)
    )


def folder_bytes(folder: Path) -> int:
    """Size of all files below ``folder``."""
    return sum(path.stat().st_size for path in folder.rglob("*") if path.is_file())
