"""Files inside a ZIP, each with the name `archive.zip!folder/file.csv`; bounded in number and size, never nested.

What a ZIP claims of its members is checked before any is unpacked, and no more than the claim is ever unpacked.
"""

from __future__ import annotations

import io
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from analyzer.errors import FileUnreadable
from analyzer.importing.source import Source

MOST_MEMBERS = 20_000
MOST_BYTES = 2 << 30
"""Of all members together."""
MOST_MEMBER_BYTES = 1 << 29
"""Of one member: no export comes near."""
_MOST_SWELLING = 400
_SMALL = 16 << 20


def is_archive(source: Source) -> bool:
    """Whether these bytes are a ZIP of files, and not a workbook (which is a ZIP too)."""
    if source.data[:4] != b"PK\x03\x04":
        return False
    try:
        with zipfile.ZipFile(io.BytesIO(source.data)) as archive:
            names = set(archive.namelist())
    except (zipfile.BadZipFile, ValueError, OSError):
        return False
    return not names & {"[Content_Types].xml", "mimetype", "content.xml", "xl/workbook.xml"}


def member_names(name: str, where: Path | bytes) -> list[str]:
    """Names of the files in a ZIP, sorted; folders, hidden files and lock files left out.

    Raises:
        FileUnreadable: broken, or absurdly large inside. `name` is the ZIP as told to the user.
    """
    with _opened(name, where) as archive:
        wanted = [info for info in archive.infolist() if not info.is_dir() and _is_evidence(info.filename)]
        _check(name, wanted)
        return sorted({info.filename for info in wanted})


def member_bytes(name: str, where: Path | bytes, member: str) -> bytes:
    """The bytes of one file in a ZIP.

    Raises:
        FileUnreadable: gone, broken, locked by a password, or larger than its ZIP may claim.
    """
    with _opened(name, where) as archive:
        info = archive.getinfo(member)
        _check(name, [info])
        return archive.read(info)


def members(source: Source) -> list[Source]:
    """The files of a ZIP, by name; folders, hidden files and lock files left out.

    Raises:
        FileUnreadable: broken, locked by a password, or absurdly large inside.
    """
    names = member_names(source.name, source.data)
    return [Source(f"{source.name}!{name}", member_bytes(source.name, source.data, name)) for name in names]


@contextmanager
def _opened(name: str, where: Path | bytes) -> Iterator[zipfile.ZipFile]:
    try:
        with zipfile.ZipFile(io.BytesIO(where) if isinstance(where, bytes) else where) as archive:
            yield archive
    except RuntimeError as error:  # a password, or a way of packing that is not known
        if "password" in str(error):
            raise FileUnreadable(name, "the ZIP is locked by a password", "unpack it and give the files") from error
        raise _broken(name) from error
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, ValueError, KeyError) as error:
        raise _broken(name) from error


def _broken(name: str) -> FileUnreadable:
    return FileUnreadable(name, "the ZIP is broken", "pack the files again, or unpack it and give the files")


def _is_evidence(name: str) -> bool:
    parts = name.replace("\\", "/").split("/")
    return not any(part.startswith((".", "~$", "__MACOSX")) or part == ".." for part in parts)


def _check(name: str, wanted: list[zipfile.ZipInfo]) -> None:
    swollen = any(
        info.file_size > MOST_MEMBER_BYTES
        or (info.file_size > _SMALL and info.file_size > _MOST_SWELLING * info.compress_size)
        for info in wanted
    )
    if len(wanted) > MOST_MEMBERS or sum(info.file_size for info in wanted) > MOST_BYTES or swollen:
        raise FileUnreadable(name, "the ZIP swells to an absurd size when opened", "unpack it and give the files")
