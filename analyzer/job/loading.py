"""job.toml -> `Job`. Every mistake becomes one sentence: the dotted key, what is wrong, what is accepted."""

from __future__ import annotations

import datetime as dt
import json
import re
import tomllib
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any, NamedTuple, get_args

from pydantic import BaseModel, ValidationError

from analyzer.errors import FileMissing, FileUnreadable, JobError
from analyzer.job.kinds import OWN_SENTENCE, WHOLE_ENTRY
from analyzer.job.models import Job, stated_keys


class Key(NamedTuple):
    """What is known of one key: meaning, what is accepted, default (None where it must be given or nothing is set)."""

    meaning: str
    accepts: str
    default: Any


@cache
def known_keys() -> Mapping[str, Key]:
    """Every key by its dotted name, in the order of the models.

    Entries of a list of tables are written `limits[].name`, tables with free names `confirmed.*.by`.
    """
    found: dict[str, Key] = {}

    def walk(prefix: str, model: type[BaseModel]) -> None:
        for name, field in model.model_fields.items():
            extra = field.json_schema_extra if isinstance(field.json_schema_extra, dict) else {}
            default = None if field.is_required() else field.default
            found[prefix + name] = Key(field.description or "", str(extra.get("accepts", "")), default)
            inner, joint = _inner_model(field.annotation)
            if inner is not None:
                walk(f"{prefix}{name}{joint}.", inner)

    walk("", Job)
    return MappingProxyType(found)


def _inner_model(annotation: Any) -> tuple[type[BaseModel] | None, str]:
    """The model inside an annotation, and how its keys are joined: a table, [] for lists, .* for free names."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation, ""
    for argument in get_args(annotation):
        if isinstance(argument, type) and issubclass(argument, BaseModel):
            return argument, ".*" if len(get_args(annotation)) == 2 else "[]"
    return None, ""


def load_job(path: str | Path) -> Job:
    """Read a job file.

    Raises:
        FileMissing: there is no such file.
        FileUnreadable: it cannot be opened.
        JobError: its content is no TOML, or keys are wrong; every mistake is told at once.
    """
    path = Path(path)
    try:
        content = path.read_bytes()
    except FileNotFoundError:
        raise FileMissing(f"{path}: no such file; give the path of a job file") from None
    except OSError as error:
        why = error.strerror or "it cannot be opened"
        raise FileUnreadable(str(path), why.lower(), "give the path of a job file that you may read") from None
    return parse_job(content, str(path)).lying_in(path.parent)


def parse_job(content: bytes, name: str) -> Job:
    """The bytes of a job file -> `Job` without a folder, for files inside an archive; `name` is told in errors.

    Raises:
        JobError: the content is no TOML, or keys are wrong; every mistake is told at once.
    """
    data = _toml(content, name)
    problems: list[str] = []
    job = Job()
    try:
        job = Job.model_validate(data)
    except ValidationError as error:
        problems += [_sentence(one) for one in error.errors(include_url=False)]
    problems += _grant_problems(data)
    if problems:
        raise JobError(name, list(dict.fromkeys(problems)))
    return job


def _toml(content: bytes, name: str) -> dict[str, Any]:
    try:
        return tomllib.loads(content.decode("utf-8-sig"))
    except UnicodeDecodeError:
        raise JobError(name, ["the text is not UTF-8; save the file as UTF-8"]) from None
    except tomllib.TOMLDecodeError as error:
        raise JobError(name, [_toml_sentence(str(error))]) from None
    except (ValueError, RecursionError):
        raise JobError(name, ["a value is too long or too deeply nested to be read; remove it"]) from None


def _toml_sentence(message: str) -> str:
    found = re.search(r"\(at (line \d+, column \d+|end of document)\)", message)
    where = found[1] if found else "somewhere"
    what = re.sub(r"\s*\(at .*\)$", "", message)
    return f"{where}: this is not TOML ({what}); texts need quotes, every key needs = and a value"


def _sentence(error: Any) -> str:
    """One error of pydantic in our words."""
    location, kind, why = error["loc"], error["type"], ""
    if location[-1] == "[key]" and len(location) > 1 and kind != "extra_forbidden":
        location = location[:-1]  # pydantic's mark for a mistake in the name of an entry
    key = _dotted(location)
    if kind == "extra_forbidden":
        return f"{key} is not a key; nearest known: {_nearest(location)}"
    if kind == "missing":
        return f"{key} is missing; accepted: {_accepts(location)}"
    if kind == WHOLE_ENTRY:
        return f"{_dotted(location[:-1])}: {error['msg']}"
    if kind == OWN_SENTENCE:
        why = error["msg"]
    because = f" ({why})" if why else ""
    return f"{key} is {_shown(error['input'])}{because}; accepted: {_accepts(location)}"


def _dotted(location: Sequence[str | int]) -> str:
    """Key as the user counts: the first entry of a list is 1; names that TOML would quote are quoted."""
    text = ""
    for part in location:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part if _BARE.fullmatch(part) else _quoted(part)}"
    return text.removeprefix(".")


_BARE = re.compile(r"[0-9A-Za-z_-]+")


def _quoted(text: str) -> str:
    """Text in quotes on one line, whatever characters it holds."""
    quoted = json.dumps(text, ensure_ascii=False)
    return quoted if quoted.isprintable() else json.dumps(text)


def _pattern(location: Sequence[str | int]) -> str:
    parts = [str(part) for part in location]
    if parts[0] in {"limits", "grants"} and len(parts) > 1:
        return f"{parts[0]}[].{'.'.join(parts[2:])}".rstrip(".")
    if parts[0] == "confirmed" and len(parts) > 2:
        return f"confirmed.*.{'.'.join(parts[2:])}"
    return ".".join(parts)


def _accepts(location: Sequence[str | int]) -> str:
    """What is accepted at a place: said by the key, or by the nearest key that contains it."""
    known = known_keys()
    for end in range(len(location), 0, -1):
        found = known.get(_pattern(location[:end]).removesuffix("[]"))
        if found:
            return found.accepts
    return "nothing"


def _nearest(location: Sequence[str | int]) -> str:
    """The known key that is written most alike; a key of the same name in another table comes first.

    Inside a table whole dotted keys are compared; on top, where the table may be what was forgotten, last parts alone.
    """
    from rapidfuzz import fuzz, process

    wanted = _pattern(location).casefold()
    last = {key: key.rsplit(".", 1)[-1] for key in known_keys()}
    if "." not in wanted:
        compared = last
    else:
        leaf = wanted.rsplit(".", 1)[-1]
        dotted = {key: key for key in last if "." in key}
        compared = {key: key for key in dotted if last[key] == leaf} or dotted
    best = process.extractOne(wanted, compared, scorer=fuzz.ratio)
    return _filled_in(str(best[2]), location)


def _filled_in(pattern: str, location: Sequence[str | int]) -> str:
    """`limits[].name` -> `limits[2].name`, `confirmed.*.by` -> `confirmed.ROW-ID.by`, as far as the place says."""
    if len(location) > 1 and isinstance(location[1], int):
        return pattern.replace("[]", f"[{location[1] + 1}]")
    return pattern.replace("*", _dotted(location[1:2])) if len(location) > 2 else pattern


def _shown(value: Any) -> str:
    """A value as the file writes it, cut where it is long."""

    def plain(inner: Any) -> str:
        return inner.isoformat() if isinstance(inner, dt.date | dt.time) else repr(inner)

    if isinstance(value, dt.date | dt.time):
        return plain(value)
    text = json.dumps(value, ensure_ascii=False, default=plain)
    text = text if text.isprintable() else json.dumps(value, default=plain)
    return text if len(text) <= 60 else f"{text[:57]}..."


def _grant_problems(data: Mapping[str, Any]) -> list[str]:
    """Grants that speak of nothing: looked for in the raw tables, so that they are told beside all other mistakes."""
    grants = data.get("grants")
    if not isinstance(grants, list):
        return []
    given = {key.casefold() for key in stated_keys(data)}
    problems = []
    for number, grant in enumerate(grants, start=1):
        what = grant.get("what") if isinstance(grant, Mapping) else None
        if not isinstance(what, str) or not what.strip() or what.casefold() in given:
            continue
        problems.append(f"grants[{number}].what is {_quoted(what)}, {_why_no_grant(what)}")
    return problems


def _why_no_grant(what: str) -> str:
    location = tuple(what.split("."))
    if len(location) == 1 and what in Job.model_fields:
        return "which is a whole table; name the one key of it that is looser"
    if location[0] in {"overrides", "confirmed", "candidates"} or _pattern(location) in known_keys():
        return "which this file does not state; state it or remove the grant"
    return f"which is not a key; nearest known: {_nearest(location)}"
