"""Which files are evidence: from the paths that were given to a list of sources, each read only when its turn comes."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fnmatch import fnmatch
from pathlib import Path

from analyzer.errors import FileMissing, FileUnreadable, NothingToJudge
from analyzer.importing.archive import is_archive, member_bytes, member_names
from analyzer.importing.source import Source
from analyzer.job import Job, load_job
from analyzer.job.marks import SUFFIX as MARKS_SUFFIX

TABLE_SUFFIXES = (
    ".csv", ".tsv", ".txt", ".xlsx", ".xlsm", ".xls", ".ods", ".parquet", ".s4p", ".s8p", ".s12p", ".s16p",
)  # fmt: skip
"""Files that are tried as tables when a folder or an archive is given."""

_REFUSED_ALOUD = (".xlsb",)
"""Workbooks that cannot be read: tried as tables, so that they are refused with the mend and never passed over."""

JOB_FILE = "job.toml"
STANDARD_INPUT = "-"
MAP_SUFFIX = ".columns.toml"
"""A column map lies beside the exports it speaks of, under a name that ends so."""


@dataclass(frozen=True)
class Found:
    """One file that was found: its name as told to the user, and where its bytes are."""

    name: str
    path: Path
    member: str | None = None
    """Name inside an archive; None for a plain file."""
    is_table: bool = True
    data: bytes | None = None
    """The bytes of what cannot be read twice (standard input)."""

    def read(self) -> bytes:
        """The bytes.

        Raises:
            FileUnreadable: the file went away, is not allowed to be read, or its ZIP is broken.
        """
        if self.data is not None:
            return self.data
        if self.member is not None:
            return member_bytes(self.name, self.path, self.member)
        try:
            return self.path.read_bytes()
        except (OSError, ValueError) as error:
            why = getattr(error, "strerror", None) or str(error) or type(error).__name__
            raise FileUnreadable(
                self.name, f"cannot be read ({why})", "close the program that holds it, or copy it and try the copy"
            ) from error


@dataclass(frozen=True)
class Gathered:
    """The evidence in its order, the job that governs it, and where the schedule lies."""

    evidence: tuple[Found, ...]
    job: Job
    schedule: Path | None
    is_folder: bool
    """A whole folder was given: completeness speaks of the whole schedule."""
    maps: tuple[Path, ...] = ()
    """Column maps that lie in the job folder or beside the files given, in the order of their names."""
    marks: tuple[Path, ...] = ()
    """Files of reviewers' marks in the job folder or beside the files given, in the order of their names."""
    job_path: Path | None = None
    """The job file that governs; None where there is none."""


def gather(paths: Sequence[str | Path], job: Job | Path | None, schedule: Path | None = None) -> Gathered:
    """Find the evidence below `paths`, the job and the schedule.

    Raises:
        FileMissing: a path does not exist.
        NothingToJudge: nothing that could be evidence lies there.
        JobError: job.toml cannot be used.
    """
    if not paths:
        raise NothingToJudge("no file was named; give one or several exports, a ZIP or a job folder")
    places = [Path(path) for path in paths]
    for place in places:
        if str(place) != STANDARD_INPUT and not place.exists():
            raise FileMissing(f"{place}: there is no such file or folder; check the spelling and the folder you are in")
    folders = [place for place in places if place.is_dir()]
    the_job, job_folder = _job(job, folders)
    if schedule is None and the_job.schedule.file and job_folder is not None:
        schedule = job_folder / the_job.schedule.file
        if not schedule.exists():
            raise FileMissing(f"{schedule}: the schedule that {JOB_FILE} names does not exist; correct [schedule] file")
    if schedule is not None and not schedule.exists():
        raise FileMissing(f"{schedule}: there is no such schedule; check --schedule")
    if schedule is None and folders:
        schedule = _schedule_beside(folders[0])
    found: list[Found] = []
    for place in places:
        if str(place) == STANDARD_INPUT:
            found += _standard_input(place)
        elif place.is_dir():
            found += _in_folder(place, the_job, schedule)
        else:
            found += _one_file(place, job_folder)
    found = _unambiguous(found)
    if not any(file.is_table for file in found):
        where = " and ".join(str(place) for place in places)
        kinds = " ".join(TABLE_SUFFIXES)
        raise NothingToJudge(
            f"{where}: no evidence lies there; put exports ({kinds}) into it, or into its folder evidence/"
        )
    maps = maps_near(places, the_job, job_folder)
    marks = beside(places, job_folder, MARKS_SUFFIX)
    return Gathered(tuple(found), the_job, schedule, bool(folders), maps, marks, _job_path(job, the_job))


def _job_path(job: Job | Path | None, the_job: Job) -> Path | None:
    if job is not None and not isinstance(job, Job):
        return Path(job)
    beside = the_job.folder / JOB_FILE if the_job.folder is not None else None
    return beside if beside is not None and beside.is_file() else None


def maps_near(places: Sequence[Path], job: Job | None = None, job_folder: Path | None = None) -> tuple[Path, ...]:
    """Maps in the job folder, in its evidence, and beside the files that were given, by name."""
    evidence = (job.evidence.folder if job else None) or "evidence"
    folders = [place if place.is_dir() else place.resolve().parent for place in places if str(place) != STANDARD_INPUT]
    folders += [folder.parent for folder in folders if folder.name == evidence]
    folders += [job_folder] if job_folder is not None else []
    found: dict[Path, Path] = {}
    for folder in [*folders, *(folder / evidence for folder in folders)]:
        if folder.is_dir():
            for path in sorted(folder.glob(f"*{MAP_SUFFIX}")):
                found.setdefault(path.resolve(), path)
    return tuple(sorted(found.values(), key=lambda path: (path.name, path.as_posix())))


def beside(places: Sequence[Path], job_folder: Path | None, suffix: str) -> tuple[Path, ...]:
    """Files that end in `suffix`, in the folders given, beside the files given, and in the job folder, by name."""
    folders = [place if place.is_dir() else place.resolve().parent for place in places if str(place) != STANDARD_INPUT]
    folders += [job_folder] if job_folder is not None else []
    found = {
        path.resolve(): path for folder in folders if folder.is_dir() for path in sorted(folder.glob(f"*{suffix}"))
    }
    return tuple(sorted(found.values(), key=lambda path: (path.name, path.as_posix())))


def _standard_input(place: Path) -> list[Found]:
    name, data = "standard input", sys.stdin.buffer.read()
    if not is_archive(Source(name, data)):
        return [Found(name, place, data=data)]
    return [
        Found(f"{name}!{member}", place, member, is_table_name(member), data=member_bytes(name, data, member))
        for member in member_names(name, data)
    ]


def _job(job: Job | Path | None, folders: list[Path]) -> tuple[Job, Path | None]:
    if isinstance(job, Job):
        return job, job.folder or (folders[0] if folders else None)
    if job is not None:
        if not Path(job).exists():
            raise FileMissing(f"{job}: there is no such job file; check --job")
        return load_job(Path(job)), Path(job).resolve().parent
    with_job = [folder for folder in folders if (folder / JOB_FILE).is_file()]
    if len(with_job) > 1:
        raise NothingToJudge(
            f"{with_job[0]} and {with_job[1]} both hold a {JOB_FILE}; check them one after the other, or name one with --job"
        )
    if with_job:
        return load_job(with_job[0] / JOB_FILE), with_job[0]
    return Job(), folders[0] if folders else None


def _schedule_beside(folder: Path) -> Path | None:
    beside = sorted(path for path in folder.glob("schedule.*") if path.suffix.lower() in TABLE_SUFFIXES)
    if len(beside) > 1:
        names = ", ".join(path.name for path in beside)
        raise NothingToJudge(f"{folder}: several schedules ({names}); name one in {JOB_FILE} under [schedule] file")
    return beside[0] if beside else None


def _in_folder(folder: Path, job: Job, schedule: Path | None) -> Iterator[Found]:
    root = folder / (job.evidence.folder or "evidence")
    if job.evidence.folder and not root.is_dir():
        raise FileMissing(
            f"{root}: the evidence folder that {JOB_FILE} names does not exist; correct [evidence] folder"
        )
    if not root.is_dir():
        root = folder
    for path in sorted(root.rglob("*"), key=lambda path: path.relative_to(root).as_posix()):
        name = path.relative_to(folder).as_posix()
        if path.is_file() and not _is_furniture(path, root, schedule) and not _excluded(name, job):
            yield from (
                _members(path, name)
                if path.suffix.lower() == ".zip"
                else [Found(name, path, None, is_table_name(path.name))]
            )


def _one_file(path: Path, job_folder: Path | None) -> Iterator[Found]:
    name = path.name
    if job_folder is not None and path.resolve().is_relative_to(job_folder.resolve()):
        name = path.resolve().relative_to(job_folder.resolve()).as_posix()
    if path.suffix.lower() == ".zip":
        yield from _members(path, name)
    else:
        yield Found(name, path)


def _members(path: Path, name: str) -> list[Found]:
    inside = member_names(name, path)
    if "bagit.txt" in {member.rpartition("/")[2] for member in inside}:
        return []
    return [Found(f"{name}!{member}", path, member, is_table_name(member)) for member in inside]


def is_table_name(name: str) -> bool:
    """Whether a file is tried as a table, by its name."""
    return name.lower().endswith((*TABLE_SUFFIXES, *_REFUSED_ALOUD))


def _is_hidden(name: str) -> bool:
    return any(part.startswith((".", "~$", "__MACOSX")) for part in name.split("/"))


def _is_furniture(path: Path, root: Path, schedule: Path | None) -> bool:
    """Job files, the schedule, column maps, marks, lock files, reports and packages are no evidence."""
    inside = path.relative_to(root)
    own = path.name == JOB_FILE or path.name.endswith((MAP_SUFFIX, MARKS_SUFFIX))
    in_package = any(
        (root.joinpath(*inside.parts[:depth]) / "bagit.txt").exists() for depth in range(1, len(inside.parts))
    )
    return (
        own
        or _is_hidden(inside.as_posix())
        or "reports" in inside.parts[:-1]
        or "attachments" in inside.parts[:1]
        or in_package
        or (schedule is not None and path.resolve() == schedule.resolve())
    )


def _excluded(name: str, job: Job) -> bool:
    return any(fnmatch(name, pattern) or fnmatch(name.rpartition("/")[2], pattern) for pattern in job.evidence.exclude)


def _unambiguous(found: list[Found]) -> list[Found]:
    """The same name for two files would hide one: then both go by their path as given."""
    names = [file.name for file in found]
    return [
        Found(file.path.as_posix() + (f"!{file.member}" if file.member else ""), file.path, file.member, file.is_table)
        if names.count(file.name) > 1
        else file
        for file in found
    ]
