"""A package checked and judged again.

First the bag: every checksum, nothing missing, nothing extra. Then the evidence is read and judged again with the
values that the package carries, which must give the same tables; then with today's values, which tells what has
changed since. Every difference says whether it lies in the evidence, the readings, the rules or the limits.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from analyzer import __version__
from analyzer.errors import CableproofError
from analyzer.pipeline import judge_gathered
from analyzer.report.package.bag import TAG_MANIFEST
from analyzer.report.package.compared import all_differences
from analyzer.report.package.contents import SIGNATURE, TABLES
from analyzer.report.package.opened import Difference, Held, Package, held, opened, unpacked
from analyzer.report.package.signature import is_signed_by
from analyzer.report.package.tables import package_tables
from analyzer.standards.values import FOLDER

KINDS: Final = ("package", "evidence", "reading", "rules", "limits")
"""In the order in which they are told."""


@dataclass
class Verification:
    """What was found; nothing in the three lists means that the package is as it was made."""

    software: str
    made: str
    status: str
    checksums: list[Difference] = field(default_factory=list)
    again: list[Difference] = field(default_factory=list)
    """With the package's own limits."""
    today: list[Difference] = field(default_factory=list)
    """With today's limits."""
    same_values: bool = False
    """Today's values are those of the package, so judging a second time would tell nothing new."""
    signed: bool | None = None
    """The signature is that of the key; None where no key was given."""
    totals: dict[str, int] = field(default_factory=dict)

    @property
    def differs(self) -> bool:
        """Whether anything differs."""
        return bool(self.checksums or self.again or self.today) or self.signed is False


def verify_package(
    place: Path, key: Path | None = None, tell: Callable[[str], None] = lambda _step: None
) -> Verification:
    """Check a package, folder or ZIP, of this or an earlier version.

    Args:
        place: the package.
        key: public Ed25519 key that must have signed it.
        tell: is told each step.

    Raises:
        InputError: it is no package, or its ZIP is broken.
    """
    with tempfile.TemporaryDirectory(prefix="cableproof-") as scratch:
        tell("checksums")
        package = opened(unpacked(place, Path(scratch) / "package"))
        info = package.info
        found = Verification(
            info.get("Bag-Software-Agent", "unknown"), info.get("Cableproof-Made", "unknown"),
            info.get("Cableproof-Status", "unknown"), checksums=list(package.differences),
        )  # fmt: skip
        if key is not None:
            found.signed = _signed(package, key)
        _judge_again(package, found, Path(scratch), tell)
    return found


def _signed(package: Package, key: Path) -> bool:
    seal = package.folder / SIGNATURE
    if not seal.is_file():
        return False
    return is_signed_by((package.folder / TAG_MANIFEST).read_bytes(), seal.read_bytes(), key)


def _judge_again(package: Package, found: Verification, scratch: Path, tell: Callable[[str], None]) -> None:
    tell("reading and judging again")
    told = {path.name: path.read_bytes() for path in (package.data / TABLES).glob("*") if path.is_file()}
    try:
        the_job = held(package)
        values = _complete_values(the_job, scratch / "values")
        again = judge_gathered(the_job.gathered, the_job.given, values)
    except CableproofError as error:
        found.again.append(Difference("package", f"the evidence cannot be judged again: {error}"))
        return
    found.totals = again.totals
    found.again = all_differences(told, package_tables(again), TABLES)
    found.same_values = _same(values, FOLDER)
    if found.same_values:
        return
    tell("judging with today's limits")
    try:
        now = judge_gathered(the_job.gathered, the_job.given)
    except CableproofError as error:
        found.today.append(Difference("limits", f"cannot be judged with today's limits: {error}"))
        return
    found.today = [
        difference
        for difference in all_differences(
            {name: text for name, text in told.items() if name.endswith(".csv")}, package_tables(now), TABLES
        )
        if not difference.text.endswith(".parquet: is missing") and difference not in found.again
    ]


def _complete_values(the_job: Held, into: Path) -> Path:
    """The package's values files; those that an earlier version did not have yet are today's."""
    lacking = [path for path in FOLDER.glob("*.csv") if not (the_job.values / path.name).is_file()]
    if not lacking:
        return the_job.values
    into.mkdir()
    for path in (*lacking, *the_job.values.glob("*.csv")):
        shutil.copy(path, into / path.name)
    return into


def _same(one: Path, other: Path) -> bool:
    names = {path.name for path in one.glob("*.csv")}
    return names == {path.name for path in other.glob("*.csv")} and all(
        (one / name).read_bytes() == (other / name).read_bytes() for name in names
    )


def is_this_version(software: str) -> bool:
    """Whether the package was made by the version that checks it."""
    return software == f"cableproof {__version__}"
