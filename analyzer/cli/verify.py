"""`cableproof verify`: a package checked and judged again."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from analyzer.cli.loading import load_pipeline

if TYPE_CHECKING:
    from analyzer.report.package.opened import Difference

_SHOWN = 40


def verify(package: Path, *, key: Path | None = None) -> int:
    """Check a package and judge its evidence again. Exit code 0: nothing differs; 1: something does.

    Parameters
    ----------
    package
        The folder or ZIP that closeout wrote.
    key
        The public Ed25519 key (PEM) that must have signed it.
    """
    load_pipeline()
    from analyzer.verify import is_this_version, verify_package

    found = verify_package(package, key)
    print(f"Package: {package} ({found.status}), made {found.made} with {found.software}")
    _say("Checksums", "every file is as listed, nothing is missing, nothing was added", found.checksums)
    if found.signed is not None:
        print("Signature: " + ("made by this key" if found.signed else "NOT made by this key, or there is none"))
    _say("Judged again with the package's own limits", "the same readings, limits, margins and verdicts", found.again)
    if found.same_values:
        print("Judged again with today's limits: they are those of the package")
    else:
        _say("Judged again with today's limits", "no difference", found.today)
    if found.again and not is_this_version(found.software):
        print(
            "It was made by another version of cableproof: differences may come from the program; that version would tell."
        )
    print("Exit code 1: the package differs." if found.differs else "Exit code 0: the package is as it was made.")
    return 1 if found.differs else 0


def _say(what: str, good: str, differences: list[Difference]) -> None:
    if not differences:
        print(f"{what}: {good}")
        return
    from analyzer.verify import KINDS

    print(f"{what}: {len(differences)} {'difference' if len(differences) == 1 else 'differences'}")
    for kind in KINDS:
        mine = [difference.text for difference in differences if difference.kind == kind]
        if mine:
            print(f"  {kind}:")
            for text in mine[:_SHOWN]:
                print(f"    {text}")
            if len(mine) > _SHOWN:
                print(f"    and {len(mine) - _SHOWN} more")
