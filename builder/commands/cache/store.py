"""The cache on disk: entries under their keys, written whole or not at all, believed only where this user made them."""

from __future__ import annotations

import contextlib
import hmac
import os
import zlib
from dataclasses import dataclass
from pathlib import Path

from builder.core.writing import write_whole

FOLDER = ".soakbook-cache"
LIMIT = 500_000_000  # bytes
_SEAL = 32
_SECRET = 32


@dataclass(frozen=True, kw_only=True)
class Store:
    """Entries below a folder, sealed with a secret that lies outside it.

    An archive may come from anybody, and its cache with it; without the secret nobody can put a page into a site.
    Whatever goes wrong with an entry makes it a miss, and whatever goes wrong in writing leaves none.
    """

    folder: Path
    secret: bytes

    def get(self, key: str) -> bytes | None:
        """Return what is kept under a key, or None."""
        path = self._path(key)
        try:
            sealed = path.read_bytes()
            if not hmac.compare_digest(sealed[:_SEAL], self._seal(key, sealed[_SEAL:])):
                return None
            data = zlib.decompress(sealed[_SEAL:])
            os.utime(path)  # so that what is in use goes last
        except (OSError, zlib.error):
            return None
        return data

    def put(self, key: str, data: bytes) -> None:
        """Keep something under a key."""
        packed = zlib.compress(data, 1)
        path = self._path(key)
        with contextlib.suppress(OSError):
            self._make_folder(path.parent)
            write_whole(path, self._seal(key, packed) + packed, mode=0o600, lasting=False)

    def prune(self, limit: int = LIMIT) -> None:
        """Remove entries, the longest unused first, until those that are left hold at most `limit` bytes."""
        with contextlib.suppress(OSError):
            found = sorted(((path.stat(), path) for path in self.folder.glob("*/*")), key=lambda f: -f[0].st_mtime)
            room = limit
            for status, path in found:
                room -= status.st_size
                if room < 0:
                    path.unlink(missing_ok=True)

    def _path(self, key: str) -> Path:
        return self.folder / key[:2] / key[2:]

    def _seal(self, key: str, packed: bytes) -> bytes:
        return hmac.digest(self.secret, key.encode() + packed, "sha256")

    def _make_folder(self, folder: Path) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        ignore = self.folder / ".gitignore"
        if not ignore.exists():
            ignore.write_text("*\n", encoding="utf-8")


def open_store(root: Path, state: Path) -> Store | None:
    """Return the store of an archive; None where there is no secret, or the cache leads out of the archive.

    `state` is the user's own folder for what programs keep between runs.
    """
    folder = root / FOLDER
    secret = _secret(state / "soakbook" / "cache-secret")
    if secret is None or folder.is_symlink():
        return None
    return Store(folder=folder, secret=secret)


def state_folder() -> Path:
    """Return the user's folder for what programs keep between runs (XDG Base Directory, XDG_STATE_HOME)."""
    given = os.environ.get("XDG_STATE_HOME", "")
    return Path(given) if given and Path(given).is_absolute() else Path.home() / ".local" / "state"


def _secret(path: Path) -> bytes | None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        with contextlib.suppress(FileExistsError):
            descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
            with os.fdopen(descriptor, "wb") as file:
                file.write(os.urandom(_SECRET))
        secret = path.read_bytes()
    except OSError:
        return None
    return secret if len(secret) == _SECRET else None
