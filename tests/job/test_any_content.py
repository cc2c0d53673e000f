"""Whatever stands in a job file, the answer is a job or a list of mistakes."""

from __future__ import annotations

import datetime as dt

from hypothesis import given, settings
from hypothesis import strategies as st

from analyzer.errors import JobError
from analyzer.job import known_keys, parse_job

PLAIN = st.one_of(
    st.booleans(), st.integers(), st.floats(), st.text(max_size=8), st.dates(), st.just(dt.time(1, 2)),
    st.sampled_from(["OM4", "om 4", "panel", "TIA", "one-cord", "fail", "loss", "length", "rules.judge_mean"]),
)  # fmt: skip
VALUES = st.recursive(
    PLAIN,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=4), inner, max_size=2),
    max_leaves=4,
)
TABLES = sorted({key.replace("[]", "").split(".")[0] for key in known_keys()})
NAMES = sorted({key.rsplit(".", 1)[-1] for key in known_keys() if "." in key})
TABLE = st.dictionaries(st.sampled_from(NAMES) | st.text(max_size=5), VALUES, max_size=4)
CONTENT = st.dictionaries(
    st.sampled_from(TABLES) | st.text(max_size=5), TABLE | st.lists(TABLE, max_size=2) | VALUES, max_size=4
)


def as_toml(value):
    """Any value in one line of TOML."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dt.date | dt.time):
        return value.isoformat()
    if isinstance(value, str):
        return '"' + "".join(f"\\U{ord(one):08X}" for one in value if not "\ud800" <= one <= "\udfff") + '"'
    if isinstance(value, list):
        return "[" + ", ".join(map(as_toml, value)) + "]"
    if isinstance(value, dict):
        return "{" + ", ".join(f"{as_toml(key)} = {as_toml(inner)}" for key, inner in value.items()) + "}"
    return repr(value)


def problems_of(content):
    """Mistakes told, none for a good job; any other exception is a fault of ours."""
    try:
        job = parse_job(content, "job.toml")
    except JobError as told:
        return told.problems
    return () if len(job.hash()) == 64 and job.folder is None else ("no proper job",)


@settings(max_examples=settings().max_examples * 3, deadline=None)
@given(CONTENT)
def test_any_tables_give_a_job_or_sentences_of_one_line(content):
    text = "\n".join(f"{as_toml(key)} = {as_toml(value)}" for key, value in content.items())
    for problem in problems_of(text.encode()):
        assert problem.isprintable()
        assert any(word in problem for word in (" is ", "limits[")), problem


@settings(max_examples=settings().max_examples * 2, deadline=None)
@given(st.binary(max_size=60))
def test_any_bytes_give_a_job_or_sentences_of_one_line(content):
    for problem in problems_of(content):
        assert problem.isprintable()
        assert problem != "no proper job"
