"""One frozen ``Settings``, read from a TOML file and the environment (``NARRATOR_<FIELD>`` wins).

The file is ``settings.toml`` in the narrator's home (``NARRATOR_HOME``, by default the user data folder
that platformdirs gives). Every field is documented here and in docs/settings.md; a test compares both.
"""

from __future__ import annotations

import os
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Literal

import platformdirs
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from narrator.errors import NarratorError


class Settings(BaseModel):
    """What a shop may set. Unknown fields are refused, so that a misspelled one is noticed."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    home: Path = Field(description="Folder of the database, sound and settings.toml.")
    engine: str = Field("auto", description="Recognizer: auto, moonshine, vosk or whisper.")
    second_ear: bool = Field(True, description="Whether a second recognizer listens beside the bundled one.")
    vosk_model: Path | None = Field(None, description="Folder of a Vosk model to use for dictation.")
    whisper_model: Path | None = Field(
        None,
        description="Folder of a Whisper model in CTranslate2's form (needs the extra narrator[whisper]).",
    )
    shop: str = Field("", description="Name of the shop, printed at the head of a sheet.")
    currency: str = Field("USD", description="Currency of a price said without one (ISO 4217 code).")
    temperature: Literal["degF", "Cel"] = Field(
        "degF", description="Unit of a temperature said in bare degrees."
    )
    paper: Literal["a4", "us-letter"] = Field("a4", description="Paper of printed sheets.")
    cues: bool = Field(True, description="Play short sounds: listening, kept, not understood, trouble.")
    speak: bool = Field(False, description="Speak answers (needs the extra narrator[speak]).")
    reserve_mb: int = Field(200, ge=0, description="Megabytes of disk that sound never fills.")
    keep_sound_days: int = Field(
        0, ge=0, description="Delete a session's sound after so many days, keeping its text; 0 keeps it."
    )
    engine_memory_mb: int = Field(
        1500, ge=200, description="Start the recognizer afresh, at a pause, when it holds more megabytes."
    )
    microphone: str = Field("", description="Name of the microphone; by default the system's.")
    vocabulary: Path | None = Field(
        None, description="The shop's own words (TOML); by default vocabulary.toml in the home."
    )

    @property
    def own_words(self) -> Path:
        """File of the shop's own words."""
        return self.vocabulary or self.home / "vocabulary.toml"


def default_home() -> Path:
    """The folder of ``NARRATOR_HOME``, else the user's data folder for this program."""
    given = os.environ.get("NARRATOR_HOME")
    return Path(given) if given else Path(platformdirs.user_data_dir("narrator", appauthor=False))


def load_settings(environ: Mapping[str, str] | None = None) -> Settings:
    """Read the settings file and the environment.

    Raises:
        NarratorError: E901 when the file or a variable cannot be understood.
    """
    environ = os.environ if environ is None else environ
    home = Path(environ["NARRATOR_HOME"]) if environ.get("NARRATOR_HOME") else default_home()
    path = home / "settings.toml"
    values: dict[str, object] = {}
    if path.is_file():
        try:
            values = tomllib.loads(path.read_text(encoding="utf-8"))
        except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
            raise NarratorError("E901", path=path, why=error) from error
    for name in Settings.model_fields:
        if name != "home" and (given := environ.get(f"NARRATOR_{name.upper()}")):
            values[name] = given
    try:
        return Settings.model_validate({**values, "home": home})
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(part) for part in first["loc"])
        raise NarratorError("E901", path=path, why=f"{where}: {first['msg']}") from error
