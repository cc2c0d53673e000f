"""A bag after RFC 8493 (BagIt 1.0), as a folder or a ZIP: payload, manifests, tag files, nothing half written.

The bag is written aside, under a hidden name beside its target, and renamed when it is whole; whatever interrupts the
work leaves nothing behind. Names are unique without regard to case, because half of all disks know no case.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import shutil
import tempfile
import unicodedata
import zipfile
from collections.abc import Callable, Mapping
from pathlib import Path
from types import TracebackType
from typing import Any, Final, Self

from analyzer.errors import OptionError

PAYLOAD: Final = "data/"
MANIFEST: Final = "manifest-sha256.txt"
TAG_MANIFEST: Final = "tagmanifest-sha256.txt"
DECLARATION: Final = b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
_CHUNK: Final = 1 << 20
_LONGEST_PART: Final = 120


class EvidenceChanged(OptionError):
    """A file is not what it was when it was read."""


class BagWriter:
    """Writes one bag; use it in a `with` statement, and call `finish` last."""

    def __init__(self, target: Path, made: dt.datetime) -> None:
        self.target = target
        self.made = made
        self._payload: dict[str, str] = {}
        self._tags: dict[str, str] = {}
        self._taken: set[str] = set()
        self._bytes = 0
        self._aside = _aside(target)
        self._out: _Folder | _Zip = (
            _Zip(self._aside, target.stem, made) if target.suffix.lower() == ".zip" else _Folder(self._aside)
        )

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._out.close()
        _remove(self._aside)

    def free_name(self, wanted: str) -> str:
        """A payload name like `wanted` that is safe on every system and not taken yet."""
        name = safe_name(wanted)
        stem, dot, suffix = name.rpartition(".")
        count = 1
        while _folded(name) in self._taken:
            count += 1
            name = f"{stem} ({count}){dot}{suffix}" if dot and "/" not in suffix else f"{name} ({count})"
        return name

    def add(self, name: str, content: bytes) -> str:
        """Write a payload file; `name` is relative to the payload. Returns its sha256."""
        digest = hashlib.sha256(content).hexdigest()
        with self._out.opened(PAYLOAD + self._claim(name)) as stream:
            stream.write(content)
        return self._account(name, digest, len(content))

    def add_file(self, name: str, source: Path, expected: str | None = None) -> str:
        """Copy a file into the payload.

        Raises:
            EvidenceChanged: its hash is not `expected`: it changed after it was read.
        """
        sha256, size = hashlib.sha256(), 0
        with source.open("rb") as stream, self._out.opened(PAYLOAD + self._claim(name)) as out:
            while chunk := stream.read(_CHUNK):
                sha256.update(chunk)
                size += len(chunk)
                out.write(chunk)
        digest = sha256.hexdigest()
        if expected is not None and digest != expected:
            raise EvidenceChanged(
                f"{source}: changed between reading and copying; close the program that writes to it and run closeout again"
            )
        return self._account(name, digest, size)

    def add_tag(self, name: str, content: bytes) -> None:
        """Write a tag file: beside the payload, listed in the tag manifest."""
        self._claim("/" + name)
        with self._out.opened(name) as stream:
            stream.write(content)
        self._tags[name] = hashlib.sha256(content).hexdigest()

    def manifest(self) -> bytes:
        """The payload manifest as it stands now, one line a file, by name."""
        return _lines({PAYLOAD + name: digest for name, digest in self._payload.items()})

    def tag_manifest(self) -> bytes:
        """The tag manifest as it stands now."""
        return _lines(self._tags)

    def write_manifest(self) -> str:
        """Write the payload manifest, after which nothing can be added to the payload. Returns its own sha256."""
        self.add_tag(MANIFEST, self.manifest())
        return self._tags[MANIFEST]

    def finish(self, info: Mapping[str, str], seals: Mapping[str, Callable[[bytes], bytes]] | None = None) -> None:
        """Write what is left and put the bag in its place.

        Args:
            info: lines of bag-info.txt; date and Payload-Oxum are added.
            seals: files made from the tag manifest, and therefore not listed in it (a signature), by name.
        """
        told = {
            **info,
            "Bagging-Date": self.made.date().isoformat(),
            "Payload-Oxum": f"{self._bytes}.{len(self._payload)}",
        }
        self.add_tag("bagit.txt", DECLARATION)
        self.add_tag("bag-info.txt", "".join(f"{key}: {_one_line(text)}\n" for key, text in told.items()).encode())
        with self._out.opened(TAG_MANIFEST) as stream:
            stream.write(self.tag_manifest())
        for name, seal in (seals or {}).items():
            with self._out.opened(name) as stream:
                stream.write(seal(self.tag_manifest()))
        self._out.close()
        if self.target.exists():
            raise OptionError(f"{self.target}: exists already; name another place or move it away")
        self._aside.replace(self.target)

    def _claim(self, name: str) -> str:
        folded = _folded(name)
        if folded in self._taken:
            raise ValueError(f"{name} stands twice in the bag")
        self._taken.add(folded)
        return name

    def _account(self, name: str, digest: str, size: int) -> str:
        self._payload[name] = digest
        self._bytes += size
        return digest


class _Folder:
    def __init__(self, root: Path) -> None:
        self.root = root
        root.mkdir()

    def opened(self, name: str) -> Any:
        place = self.root / name
        place.parent.mkdir(parents=True, exist_ok=True)
        return place.open("xb")

    def close(self) -> None:
        """Every file is closed by whoever wrote it."""


class _Zip:
    """One folder named like the archive, as the RFC asks of a serialized bag; the same bytes every time."""

    def __init__(self, path: Path, top: str, made: dt.datetime) -> None:
        self._zip = zipfile.ZipFile(path, "x", zipfile.ZIP_DEFLATED, compresslevel=6)
        self._top = top
        self._when = (max(made.year, 1980), made.month, made.day, made.hour, made.minute, made.second // 2 * 2)

    def opened(self, name: str) -> Any:
        entry = zipfile.ZipInfo(f"{self._top}/{name}", self._when)
        entry.compress_type = zipfile.ZIP_DEFLATED
        entry.create_system = 3
        entry.external_attr = 0o100644 << 16
        return self._zip.open(entry, "w", force_zip64=True)

    def close(self) -> None:
        self._zip.close()


def _aside(target: Path) -> Path:
    """A free hidden name beside the target."""
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        place = Path(tempfile.mkdtemp(prefix=f".{target.name[:60]}.", suffix=".unfinished", dir=target.parent))
    except OSError as error:
        raise OptionError(f"{target}: cannot be written ({error.strerror or error}); choose another place") from error
    place.rmdir()
    return place


def _remove(place: Path) -> None:
    if place.is_dir():
        shutil.rmtree(place, ignore_errors=True)
    else:
        place.unlink(missing_ok=True)


def _folded(name: str) -> str:
    return unicodedata.normalize("NFC", name).casefold()


def _lines(digests: Mapping[str, str]) -> bytes:
    return "".join(f"{digests[name]}  {_escaped(name)}\n" for name in sorted(digests)).encode()


def _escaped(name: str) -> str:
    """RFC 8493, 2.1.3: percent, line feed and carriage return are percent-encoded."""
    return name.replace("%", "%25").replace("\n", "%0A").replace("\r", "%0D")


def _one_line(text: str) -> str:
    return " ".join(text.split())


def safe_name(wanted: str) -> str:
    """A relative path with forward slashes that any system can hold: no way up, no reserved signs, no endless part."""
    parts = [part for part in wanted.replace("\\", "/").split("/") if part not in {"", "."}]
    return "/".join(_safe_part(part) for part in parts) or "unnamed"


def _safe_part(part: str) -> str:
    if part == "..":
        return "up"
    text = "".join("_" if sign in '<>:"|?*%' or not sign.isprintable() else sign for sign in part).rstrip(" .") or "_"
    if text.partition(".")[0].upper() in _RESERVED:
        text = f"_{text}"
    if len(text.encode()) <= _LONGEST_PART:
        return text
    mark = hashlib.sha256(part.encode("utf-8", "surrogatepass")).hexdigest()[:8]
    stem, dot, suffix = text.rpartition(".")
    stem, suffix = (stem, dot + suffix) if dot and len(suffix) <= 8 else (text, "")
    room = _LONGEST_PART - len(mark) - 1 - len(suffix.encode())
    return f"{stem.encode()[:room].decode(errors='ignore')}~{mark}{suffix}"


_RESERVED: Final = frozenset(
    {"CON", "PRN", "AUX", "NUL", *(f"{name}{number}" for name in ("COM", "LPT") for number in range(1, 10))}
)
