"""Every exception of the package, the tree drawn here.

    CableproofError
    ├── InputError               what a person gave cannot be used; the command ends with exit code 2
    │   ├── FileMissing          no such file or folder
    │   ├── FileUnreadable       the file cannot be read as a table (broken, locked by a password, rubbish)
    │   ├── NothingToJudge       nothing readable among all that was given, or headings without rows
    │   ├── OptionError          a command-line option or argument of a public function makes no sense
    │   └── JobError             job.toml or the schedule cannot be used; carries every mistake at once
    └── StandardsError           a values file is damaged, or an edition or row is asked for that does not exist

Each message is one sentence that says what, where (file, sheet, row) and how to mend it.
"""

from __future__ import annotations

from collections.abc import Sequence


class CableproofError(Exception):
    """Base of all errors that this package raises on purpose."""


class InputError(CableproofError):
    """What a person gave cannot be used."""


class FileMissing(InputError):
    """No such file or folder."""


class FileUnreadable(InputError):
    """The file cannot be read as a table.

    `name` is the file as told to the user, `why` what is wrong, `mend` what to do about it.
    """

    def __init__(self, name: str, why: str, mend: str) -> None:
        super().__init__(f"{name}: {why}; {mend}")
        self.name = name
        self.why = why
        self.mend = mend


class NothingToJudge(InputError):
    """Nothing readable was found, or headings without rows."""


class OptionError(InputError):
    """An option or argument makes no sense."""


class JobError(InputError):
    """job.toml or the schedule cannot be used; `problems` holds every mistake, one sentence each."""

    def __init__(self, name: str, problems: Sequence[str]) -> None:
        count = len(problems)
        head = f"{name}: {count} {'mistake' if count == 1 else 'mistakes'}"
        super().__init__(head + "".join(f"\n  {problem}" for problem in problems))
        self.name = name
        self.problems = tuple(problems)


class StandardsError(CableproofError, ValueError):
    """A values file is damaged, or an edition or row is asked for that does not exist."""
