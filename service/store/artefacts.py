"""Files and results: a local folder or an S3 bucket, written once under names that we make up."""

from __future__ import annotations

import errno
import os
import secrets
from collections.abc import Iterator
from pathlib import Path
from typing import IO
from urllib.parse import urlsplit
from urllib.request import url2pathname

import obstore
from obstore.exceptions import AlreadyExistsError, BaseError, NotFoundError
from obstore.store import LocalStore, ObjectStore, from_url


class StoreError(Exception):
    """The artefact store cannot be used now; ``full`` when there is no room left."""

    def __init__(self, message: str, *, full: bool = False) -> None:
        super().__init__(message)
        self.full = full


class Gone(Exception):  # noqa: N818 - says what it is
    """There is no such object (any more)."""


class Artefacts:
    """Objects by key. No key holds anything that a client sent, but the hash of it."""

    def __init__(self, url: str) -> None:
        self._store = _open(url)
        self._folder = _folder(url)

    def put(self, key: str, data: bytes | IO[bytes]) -> None:
        """Write once, atomically; an object that is there already is kept.

        Raises StoreError.
        """
        try:
            obstore.put(self._store, key, data, mode="create" if isinstance(data, bytes) else None)
            if self._folder is not None:
                _sync(self._folder / key)
        except AlreadyExistsError:
            return
        except (BaseError, OSError) as error:
            raise _store_error(error) from error

    def get(self, key: str) -> bytes:
        """The whole object. Raises Gone, StoreError."""
        try:
            return bytes(obstore.get(self._store, key).bytes())
        except (NotFoundError, FileNotFoundError) as error:
            raise Gone(key) from error
        except (BaseError, OSError) as error:
            raise _store_error(error) from error

    def stream(self, key: str) -> Iterator[bytes]:
        """The object in pieces. Raises Gone, StoreError before the first piece."""
        try:
            result = obstore.get(self._store, key)
        except (NotFoundError, FileNotFoundError) as error:
            raise Gone(key) from error
        except (BaseError, OSError) as error:
            raise _store_error(error) from error
        return (bytes(piece) for piece in result.stream(min_chunk_size=256 * 1024))

    def delete(self, *keys: str) -> None:
        """Remove objects; those that are gone are gone."""
        for key in keys:
            try:
                obstore.delete(self._store, key)
            except (NotFoundError, FileNotFoundError):
                continue
            except (BaseError, OSError) as error:
                raise _store_error(error) from error

    def ping(self) -> None:
        """Write, read and delete a small object. Raises StoreError."""
        key = f"ping/{secrets.token_hex(8)}"
        self.put(key, b"ping")
        try:
            self.get(key)
        except Gone as error:
            raise StoreError("an object just written cannot be read") from error
        self.delete(key)


def _folder(url: str) -> Path | None:
    parts = urlsplit(url)
    return Path(url2pathname(parts.path)) if parts.scheme == "file" else None


def _open(url: str) -> ObjectStore:
    folder = _folder(url)
    if folder is None:
        return from_url(url)
    folder.mkdir(parents=True, exist_ok=True)
    return LocalStore(prefix=folder)


def _sync(path: Path) -> None:
    """Have the disk hold the file and its name: what is accepted outlives a power cut."""
    for place in (path, path.parent):
        descriptor = os.open(place, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


def _store_error(error: Exception) -> StoreError:
    words = f"{error} {error.__cause__ or ''}"
    full = (isinstance(error, OSError) and error.errno in (errno.ENOSPC, errno.EDQUOT)) or any(
        sign in words for sign in ("No space left", "StorageFull", "QuotaExceeded", "os error 28", "os error 122")
    )
    return StoreError("the artefact store is full" if full else "the artefact store cannot be used", full=full)
