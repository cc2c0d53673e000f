"""The console command `cableproof`: which commands there are, and how a run ends.

Commands are loaded only when they are called, so that `--help` is quick. Exit codes: 0, 1 as the command says,
2 for everything that could not run, with one sentence on standard error.
"""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Iterable, Sequence
from difflib import get_close_matches
from typing import TYPE_CHECKING

from cyclopts import App

from analyzer import __version__
from analyzer.errors import CableproofError

if TYPE_CHECKING:
    from cyclopts.exceptions import CycloptsError

COMMANDS = {
    "check": "Read exports, judge each link, print what fails and what to do next.",
    "report": "Make one page to look into, without network.",
    "closeout": "Make the package for the owner: evidence, results, limits, proof.",
    "verify": "Check a package, judge its evidence again, and say what differs.",
    "plan": "The budget before the cable is pulled: allowed, expected, and what the tester should read.",
    "limits": "Print limit values with document, edition, clause and how each is known.",
    "columns": "Show how the headings of a file were understood.",
    "demo": "The whole tour on invented sample results, into reports/.",
}
COULD_NOT_RUN = 2

app = App(
    name="cableproof",
    help="Reads exports of cabling tests, computes what each link is allowed, and says pass or fail with the margin.",
    help_epilogue="First try: cableproof demo. Then: cableproof check YOUR_EXPORT.csv",
    version=f"cableproof {__version__}",
    version_flags=["--version"],
    help_format="plaintext",  # Markdown would load a parser, which doubles the start-up
    result_action="return_value",
    exit_on_error=False,
    print_error=False,
    suppress_keyboard_interrupt=False,
)
for _name, _help in COMMANDS.items():
    app.command(f"analyzer.cli.{_name}:{_name}", name=_name, help=_help)


def run(arguments: Sequence[str] | None = None) -> None:
    """Console entry: run the command and leave with its exit code."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):  # a sign that the console lacks must not stop the run
            stream.reconfigure(errors="backslashreplace")
    sys.exit(outcome(sys.argv[1:] if arguments is None else arguments))


def outcome(arguments: Sequence[str]) -> int:
    """Run one command line; the exit code. Never a traceback, unless CABLEPROOF_TRACEBACK is set."""
    from cyclopts.exceptions import CycloptsError

    try:
        code = app(["./-" if argument == "-" else argument for argument in arguments])  # standard input, no option
        sys.stdout.flush()
    except CycloptsError as error:
        return _refuse(_usage(error))
    except BrokenPipeError:
        # Whoever read our output has gone (`| head`); a second flush at exit must not complain.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return COULD_NOT_RUN
    except KeyboardInterrupt:
        return _refuse("stopped")
    except CableproofError as error:
        return _refuse(str(error))
    except Exception as error:
        if os.environ.get("CABLEPROOF_TRACEBACK"):
            raise
        return _refuse(
            f"this is a fault of cableproof: {type(error).__name__}: {error}; "
            "set CABLEPROOF_TRACEBACK=1, run it again and send us what it prints"
        )
    return code if isinstance(code, int) else 0


def _refuse(sentence: str) -> int:
    text = "".join(sign if sign.isprintable() or sign == "\n" else "?" for sign in f"cableproof: {sentence}\n")
    sys.stderr.write(text)
    return COULD_NOT_RUN


def _usage(error: CycloptsError) -> str:
    from cyclopts.exceptions import UnknownCommandError

    command = " ".join(("cableproof", *(error.command_chain or ())))
    if isinstance(error, UnknownCommandError):
        # The library's own sentence would load every command to suggest one.
        said = (error.unused_tokens or ["?"])[0]
        return f"there is no command {said!r}{_nearest(said, COMMANDS)}; there are {', '.join(COMMANDS)}"
    return f"{' '.join(str(error).split())} See: {command} --help"


def _nearest(said: str, known: Iterable[str]) -> str:
    found = get_close_matches(said.casefold(), list(known), n=1, cutoff=0.5)
    return f", did you mean {found[0]!r}?" if found else ""
