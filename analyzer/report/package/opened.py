"""A package opened for checking: its bag compared with its manifests, and the job that it holds found again."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import re
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath
from typing import Any, Final, NamedTuple

from analyzer.errors import FileMissing, FileUnreadable, OptionError
from analyzer.importing.gather import MAP_SUFFIX, Found, Gathered
from analyzer.job import CommandLine, Job, load_job
from analyzer.job.marks import SUFFIX as MARKS_SUFFIX
from analyzer.report.package.bag import DECLARATION, MANIFEST, PAYLOAD, TAG_MANIFEST
from analyzer.report.package.contents import SIGNATURE
from analyzer.report.package.evidence import INDEX, OPTIONS
from analyzer.report.package.limits_used import VALUES

_LARGEST: Final = 64 << 30
_CHUNK: Final = 1 << 20
_LINE: Final = re.compile(r"([0-9a-fA-F]{64})\s+\*?(.+)")

KINDS: Final = (
    ("data/evidence/", "evidence"), ("data/evidence.csv", "evidence"), ("data/job/", "rules"),
    ("data/limits/", "limits"), ("data/tables/", "reading"), ("data/attachments", "evidence"),
)  # fmt: skip
"""What a file of the payload belongs to, by how its path begins; everything else is the package itself."""


class Difference(NamedTuple):
    """One thing that is not as it should be."""

    kind: str
    """package, evidence, reading, rules or limits."""
    text: str


@dataclass(frozen=True)
class Package:
    """A package on disk, its bag-info, and what its checksums say."""

    folder: Path
    info: dict[str, str]
    differences: list[Difference] = field(default_factory=list)

    @property
    def data(self) -> Path:
        """The payload."""
        return self.folder / PAYLOAD.rstrip("/")


def unpacked(place: Path, into: Path) -> Path:
    """The folder of the bag: `place` itself, or the one folder of the ZIP, unpacked below `into`.

    Raises:
        FileMissing: there is nothing.
        FileUnreadable: the ZIP is broken, too large, or names a path that climbs out.
        OptionError: it is no package.
    """
    if not place.exists():
        raise FileMissing(f"{place}: there is no such package; check the spelling and the folder you are in")
    if place.is_dir():
        if not (place / "bagit.txt").is_file():
            raise OptionError(
                f"{place}: is no package (it holds no bagit.txt); name the folder or ZIP that closeout wrote"
            )
        return place
    why = _unpack(place, into)
    if why:
        raise FileUnreadable(str(place), why, "get the package again from whoever made it")
    found = [path.parent for path in into.glob("*/bagit.txt")] + ([into] if (into / "bagit.txt").is_file() else [])
    if len(found) != 1:
        raise OptionError(f"{place}: is no package (no single folder with bagit.txt); name what closeout wrote")
    return found[0]


def _unpack(place: Path, into: Path) -> str:
    """Unpack a ZIP; why it cannot be, empty where it can."""
    try:
        with zipfile.ZipFile(place) as archive:
            entries = archive.infolist()
            if any(_climbs(entry.filename) for entry in entries):
                return "a path in the ZIP leads out of it"
            if len({entry.filename.casefold() for entry in entries}) < len(entries):
                return "one name stands twice in the ZIP"
            if sum(entry.file_size for entry in entries) > _LARGEST:
                return "the ZIP would unpack to more than 64 GB"
            archive.extractall(into)
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, RuntimeError, ValueError) as error:
        return f"is no whole ZIP ({error})"
    return ""


def _climbs(name: str) -> bool:
    path = PurePosixPath(name.replace("\\", "/"))
    return path.is_absolute() or ".." in path.parts or ":" in name.partition("/")[0]


def opened(folder: Path) -> Package:
    """Compare the files of a bag with its manifests: every checksum, nothing missing, nothing extra."""
    info = _info(folder)
    package = Package(folder, info)
    tell = package.differences
    if (folder / "bagit.txt").read_bytes().replace(b"\r\n", b"\n") != DECLARATION:
        tell.append(Difference("package", "bagit.txt does not declare BagIt 1.0 in UTF-8"))
    listed = _checked(folder, MANIFEST, tell)
    tags = _checked(folder, TAG_MANIFEST, tell)
    for name in sorted(_files(folder)):
        if name.startswith(PAYLOAD):
            if name not in listed:
                tell.append(Difference(kind_of(name), f"{name}: was added; the manifest does not list it"))
        elif name not in tags and name not in {TAG_MANIFEST, SIGNATURE}:
            tell.append(Difference("package", f"{name}: was added; the tag manifest does not list it"))
    oxum = info.get("Payload-Oxum")
    sizes = [path.stat().st_size for path in (folder / name for name in listed) if path.is_file()]
    if oxum != f"{sum(sizes)}.{len(sizes)}":
        tell.append(
            Difference("package", f"bag-info.txt: Payload-Oxum says {oxum}, the payload is {sum(sizes)}.{len(sizes)}")
        )
    return package


def kind_of(name: str) -> str:
    """What a file of the payload belongs to."""
    return next((kind for start, kind in KINDS if name.startswith(start)), "package")


def _checked(folder: Path, manifest: str, tell: list[Difference]) -> dict[str, str]:
    path = folder / manifest
    if not path.is_file():
        tell.append(Difference("package", f"{manifest}: is missing"))
        return {}
    listed: dict[str, str] = {}
    for number, line in enumerate(path.read_text("utf-8", "replace").splitlines(), start=1):
        found = _LINE.fullmatch(line)
        name = found[2].replace("%0A", "\n").replace("%0D", "\r").replace("%25", "%") if found else ""
        if not found or _climbs(name):
            why = "a path that leads out of the package" if found else "no checksum and path"
            tell.append(Difference("package", f"{manifest}, line {number}: {why}"))
        elif name in listed:
            tell.append(Difference("package", f"{manifest}, line {number}: {name} is listed twice"))
        else:
            listed[name] = found[1].lower()
    there = set(_files(folder))
    for name, digest in listed.items():
        if name not in there:
            tell.append(Difference(kind_of(name), f"{name}: is missing"))
        elif _digest(folder / name) != digest:
            tell.append(Difference(kind_of(name), f"{name}: was changed; its checksum is not that of {manifest}"))
    return listed


def _files(folder: Path) -> Iterator[str]:
    for path in folder.rglob("*"):
        if path.is_file() or path.is_symlink():
            yield path.relative_to(folder).as_posix()


def _digest(path: Path) -> str:
    sha256 = hashlib.sha256()
    with path.open("rb") as stream:
        while chunk := stream.read(_CHUNK):
            sha256.update(chunk)
    return sha256.hexdigest()


def _info(folder: Path) -> dict[str, str]:
    path = folder / "bag-info.txt"
    lines = path.read_text("utf-8", "replace").splitlines() if path.is_file() else []
    return {key.strip(): text.strip() for key, mark, text in (line.partition(":") for line in lines) if mark}


def rows_of(content: bytes) -> list[dict[str, str]]:
    """Rows of one of our CSV files."""
    return list(csv.DictReader(io.StringIO(content.decode("utf-8-sig", "replace"))))


@dataclass(frozen=True)
class Held:
    """The job that a package holds: its evidence, options and values."""

    gathered: Gathered
    given: CommandLine
    values: Path


def held(package: Package) -> Held:
    """Find evidence, job and values of a package again.

    Raises:
        FileUnreadable: a part that judging again needs is missing or damaged.
    """
    data = package.data
    try:
        options: dict[str, Any] = json.loads((data / OPTIONS).read_text("utf-8"))
        index = rows_of((data / INDEX).read_bytes())
        said, places = dict(options["said"]), dict(options["places"])
        evidence = tuple(_found(data, row) for row in index)
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise FileUnreadable(
            str(package.folder),
            f"cannot be judged again ({type(error).__name__}: {error})",
            "see what was changed above",
        ) from error
    folder = data / "job"
    job = load_job(data / places["job"]).lying_in(folder) if "job" in places else Job().lying_in(folder)
    maps = tuple(sorted(folder.glob(f"*{MAP_SUFFIX}")))
    marks = tuple(sorted(folder.glob(f"*{MARKS_SUFFIX}")))
    schedule = data / places["schedule"] if "schedule" in places else None
    for name in ("columns", "schedule"):
        if said.get(name) is not None:
            said[name] = data / places[name]
    if said.get("ends") is not None:
        said["ends"] = tuple(said["ends"])
    given = CommandLine(**{key: value for key, value in said.items() if key in CommandLine.__dataclass_fields__})
    return Held(Gathered(evidence, job, schedule, bool(options["whole_folder"]), maps, marks), given, data / VALUES)


def _found(data: Path, row: dict[str, str]) -> Found:
    path, mark, member = row["path"].partition("!")
    if not mark:
        member = ""
    whole = data / row["path"]
    if not mark or whole.is_file():
        path, member = row["path"], ""
    if _climbs(path):
        raise ValueError(f"{path} leads out of the package")
    return Found(row["name"], data / path, member or None, row["is_table"] == "True")
