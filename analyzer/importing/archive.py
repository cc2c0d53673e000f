"""Files inside a ZIP, each with the name `archive.zip!folder/file.csv`; bounded in number and size, never nested."""

from __future__ import annotations

import io
import zipfile
import zlib

from analyzer.errors import FileUnreadable
from analyzer.importing.source import Source

MOST_MEMBERS = 20_000
MOST_BYTES = 2 << 30
_MOST_SWELLING = 400
_SMALL = 16 << 20


def is_archive(source: Source) -> bool:
    """Whether these bytes are a ZIP of files, and not a workbook (which is a ZIP too)."""
    if source.data[:4] != b"PK\x03\x04":
        return False
    try:
        with zipfile.ZipFile(io.BytesIO(source.data)) as archive:
            names = set(archive.namelist())
    except zipfile.BadZipFile:
        return False
    return not names & {"[Content_Types].xml", "mimetype", "content.xml", "xl/workbook.xml"}


def members(source: Source) -> list[Source]:
    """The files of a ZIP, by name; folders, hidden files and lock files left out.

    Raises:
        FileUnreadable: broken, locked by a password, or absurdly large inside.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(source.data)) as archive:
            wanted = [info for info in archive.infolist() if not info.is_dir() and _is_evidence(info.filename)]
            _check(source, wanted)
            found = [Source(f"{source.name}!{info.filename}", archive.read(info)) for info in wanted]
    except RuntimeError as error:
        raise FileUnreadable(source.name, "the ZIP is locked by a password", "unpack it and give the files") from error
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, OSError, ValueError) as error:
        raise FileUnreadable(source.name, "the ZIP is broken", "pack the files again") from error
    return sorted(found, key=lambda member: member.name)


def _is_evidence(name: str) -> bool:
    parts = name.replace("\\", "/").split("/")
    return not any(part.startswith((".", "~$", "__MACOSX")) or part == ".." for part in parts)


def _check(source: Source, wanted: list[zipfile.ZipInfo]) -> None:
    swollen = any(info.file_size > _SMALL and info.file_size > _MOST_SWELLING * info.compress_size for info in wanted)
    if len(wanted) > MOST_MEMBERS or sum(info.file_size for info in wanted) > MOST_BYTES or swollen:
        raise FileUnreadable(
            source.name, "the ZIP swells to an absurd size when opened", "unpack it and give the files"
        )
