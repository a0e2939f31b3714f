from __future__ import annotations

import stat
import zipfile
from pathlib import Path

import pytest
from click.testing import CliRunner

from narrator.cli import cli
from narrator.errors import NarratorError
from narrator.hearing.install import install_model
from narrator.hearing.models import (
    MANIFEST,
    Found,
    list_models,
    mismatches,
    models_home,
    read_manifest,
    sha256,
    vosk_folders,
)
from narrator.paths import MODELS
from narrator.settings import Settings

FILES = {"am/final.mdl": b"acoustic", "graph/Gr.fst": b"grammar", "conf/mfcc.conf": b"--x=1\n"}


def model(root: Path) -> Path:
    for name, data in FILES.items():
        (root / name).parent.mkdir(parents=True, exist_ok=True)
        (root / name).write_bytes(data)
    return root


def archive(path: Path, inside: str = "vosk-model-small-en-us-9/") -> Path:
    with zipfile.ZipFile(path, "w") as file:
        for name, data in FILES.items():
            file.writestr(inside + name, data)
    return path


def fine(_folder: Path) -> None:
    pass


def left_over(settings: Settings) -> list[str]:
    return [p.name for p in models_home(settings).iterdir()]


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    return Settings(home=tmp_path / "home")


def test_shipped_manifests_are_valid_and_name_a_licence() -> None:
    paths = sorted(MODELS.glob("*.toml"))
    assert paths
    for path in paths:
        manifest = read_manifest(path)
        assert manifest.name == path.stem
        assert manifest.licence
        assert manifest.bytes > 1_000_000
        assert all(len(digest) == 64 for digest in manifest.files.values())


@pytest.mark.parametrize("name", ["moonshine-tiny-en", "shop", "dictation"])
def test_what_comes_with_narrator_is_as_its_manifest_says(name: str, settings: Settings) -> None:
    (bundled,) = [m for m in list_models(settings) if m.manifest.name == name]
    assert bundled.path is not None
    assert mismatches(bundled) == []
    named = [bundled.path / file for file in bundled.manifest.files]
    assert sum(path.stat().st_size for path in named) == bundled.manifest.bytes


def test_install_from_zip_and_from_folder(tmp_path: Path, settings: Settings) -> None:
    checked: list[Path] = []
    folder = install_model(archive(tmp_path / "m.zip"), settings, check=checked.append)
    assert folder == models_home(settings) / "vosk-model-small-en-us-9"
    assert (checked[0] / "am").parent.parent.parent.parent == models_home(settings)  # before it was moved
    assert (folder / "am" / "final.mdl").read_bytes() == b"acoustic"
    manifest = read_manifest(folder / MANIFEST)
    assert (manifest.language, manifest.engine) == ("en-us", "vosk")
    assert manifest.files["am/final.mdl"] == sha256(folder / "am" / "final.mdl")
    other = install_model(model(tmp_path / "mine"), settings, check=fine)
    named = install_model(archive(tmp_path / "flat.zip", ""), settings, "third", check=fine)
    assert sorted(left_over(settings)) == sorted([folder.name, other.name, named.name])
    assert {folder, other, named} <= set(vosk_folders(settings))


def test_later_damage_is_noticed(tmp_path: Path, settings: Settings) -> None:
    folder = install_model(model(tmp_path / "mine"), settings, check=fine)
    (found,) = [m for m in list_models(settings) if m.path == folder]
    assert mismatches(found) == []
    (folder / "am" / "final.mdl").write_bytes(b"acoustiC")
    (folder / "graph" / "Gr.fst").unlink()
    assert mismatches(found) == ["mine/am/final.mdl (differs)", "mine/graph/Gr.fst (missing)"]
    assert mismatches(Found(found.manifest, None)) == []


@pytest.mark.parametrize("member", ["../evil", "/evil", "a/../../evil", "C:\\evil", "a\\..\\..\\evil"])
def test_an_archive_that_climbs_out_is_refused(tmp_path: Path, settings: Settings, member: str) -> None:
    path = archive(tmp_path / "m.zip")
    with zipfile.ZipFile(path, "a") as file:
        file.writestr(member, b"x")
    with pytest.raises(NarratorError, match="E212"):
        install_model(path, settings, check=fine)
    assert left_over(settings) == []
    assert not list(tmp_path.rglob("evil"))


def test_an_archive_with_a_link_is_refused(tmp_path: Path, settings: Settings) -> None:
    path = archive(tmp_path / "m.zip")
    link = zipfile.ZipInfo("link")
    link.external_attr = (stat.S_IFLNK | 0o777) << 16
    with zipfile.ZipFile(path, "a") as file:
        file.writestr(link, "/etc/passwd")
    with pytest.raises(NarratorError, match="E212"):
        install_model(path, settings, check=fine)


def test_what_cannot_be_loaded_is_not_installed(tmp_path: Path, settings: Settings) -> None:
    def refuse(folder: Path) -> None:
        raise NarratorError("E205", path=folder, why="bad matrix")

    with pytest.raises(NarratorError, match=r"E211.*bad matrix"):
        install_model(archive(tmp_path / "m.zip"), settings, check=refuse)
    assert left_over(settings) == []


def test_what_is_no_model_is_refused(tmp_path: Path, settings: Settings) -> None:
    (tmp_path / "bad.zip").write_bytes(b"PK\x03\x04 not a zip")
    (tmp_path / "empty").mkdir()
    cut = archive(tmp_path / "cut.zip")
    cut.write_bytes(cut.read_bytes()[:-40])
    for name, code in (("bad.zip", "E211"), ("empty", "E211"), ("none.zip", "E101"), ("cut.zip", "E211")):
        with pytest.raises(NarratorError) as caught:
            install_model(tmp_path / name, settings, check=fine)
        assert caught.value.code == code
    assert left_over(settings) == []


def test_an_installed_model_is_never_overwritten(tmp_path: Path, settings: Settings) -> None:
    folder = install_model(model(tmp_path / "mine"), settings, check=fine)
    with pytest.raises(NarratorError, match="E213"):
        install_model(model(tmp_path / "mine"), settings, check=fine)
    with pytest.raises(NarratorError, match="E217"):
        install_model(model(tmp_path / "mine"), settings, "../mine", check=fine)
    assert (folder / "am" / "final.mdl").exists()


def test_too_little_room_is_said_before_unpacking(
    tmp_path: Path, settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("shutil.disk_usage", lambda _path: type("Usage", (), {"free": 3}))
    with pytest.raises(NarratorError, match="E215"):
        install_model(archive(tmp_path / "m.zip"), settings, check=fine)


def test_a_manifest_that_is_not_valid_is_named(tmp_path: Path, settings: Settings) -> None:
    for text in ("name = ", 'name = "x"\n', "\x00"):
        (tmp_path / "x.toml").write_text(text)
        with pytest.raises(NarratorError, match=r"E216.*x\.toml"):
            list_models(settings, tmp_path)


def test_a_second_ear_is_not_taken_for_dictation(tmp_path: Path, settings: Settings) -> None:
    shipped = tmp_path / "shipped"
    model(shipped / "shop")
    assert list(vosk_folders(settings, shipped)) == [shipped / "shop"]
    (shipped / "shop.toml").write_text(
        'name = "shop"\nengine = "vosk"\nlanguage = "en"\nbytes = 1\nlicence = "Apache-2.0"\n'
        'source = "ours"\nget = "shipped"\nrole = "second-ear"\n'
    )
    assert list(vosk_folders(settings, shipped)) == []


def test_the_commands_list_and_verify(tmp_path: Path) -> None:
    run = CliRunner()
    environment = {"NARRATOR_HOME": str(tmp_path)}
    listed = run.invoke(cli, ["models"], env=environment)
    assert listed.exit_code == 0
    assert "moonshine-tiny-en" in listed.stdout
    assert "vosk-model-small-en-us-0.15" in listed.stdout
    assert '"licence": "MIT"' in run.invoke(cli, ["models", "--json"], env=environment).stdout
    assert "moonshine-tiny-en: 3 files match" in run.invoke(cli, ["models", "verify"], env=environment).stdout
    folder = install_model(model(tmp_path / "mine"), Settings(home=tmp_path), check=fine)
    (folder / "am" / "final.mdl").write_bytes(b"")
    broken = run.invoke(cli, ["models", "verify"], env=environment)
    assert isinstance(broken.exception, NarratorError)
    assert broken.exception.code == "E214"
    assert "mine: DIFFERS" in broken.stdout
