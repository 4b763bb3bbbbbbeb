"""Where the program's own files are, where the builder's data is, and what the server was asked to do."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from platformdirs import user_data_path

_TREE = Path(__file__).resolve().parent.parent
# In a checkout the pages and migrations stand beside server/; in an installed wheel they are packed inside it.
ROOT = _TREE if (_TREE / "templates").is_dir() else Path(__file__).resolve().parent / "_bundled"

TEMPLATES = ROOT / "templates"
STATIC = ROOT / "static"
MIGRATIONS = ROOT / "migrations"
DEMO_DATA = ROOT / "demo_data"

DEFAULT_PORT = 8731


def own_data_folder() -> Path:
    """The builder's own data, where the system keeps such things."""
    return user_data_path("matchmark", appauthor=False)


def demo_data_folder() -> Path:
    """The demo build has a folder of its own, so that trying things out never touches the builder's data."""
    return own_data_folder() / "demo"


@dataclass(frozen=True, slots=True)
class Settings:
    """What one running server was asked to do."""

    data: Path
    host: str = "127.0.0.1"
    port: int = DEFAULT_PORT
    https_port: int | None = None
    demo: bool = False
    allowed_hosts: tuple[str, ...] = field(default=())

    @property
    def database(self) -> Path:
        return self.data / "matchmark.db"

    @property
    def backups(self) -> Path:
        return self.data / "backups"

    @property
    def photos(self) -> Path:
        return self.data / "photos"

    @property
    def thumbs(self) -> Path:
        """Smaller pictures of the photographs: made when they are asked for, and not part of the data."""
        return self.data / "thumbs"

    @property
    def tls(self) -> Path:
        """Where the certificates for https and their keys are."""
        return self.data / "tls"

    @property
    def lock(self) -> Path:
        return self.data / "in-use.lock"
