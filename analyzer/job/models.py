"""Every key of job.toml: its type, default, meaning and what is accepted. Attribute names equal the keys.

    Job
    ├── job          names and dates for the head of the report
    ├── order        what was ordered
    ├── facts        what was built, where nothing better says so
    ├── admissible   what may be, where a fact is missing
    ├── required     which tests a link must have
    ├── rules        how the owner wants results to be treated
    ├── allowances   the owner's own allowances, in place of the standard's
    ├── expected     what a link done well should lose
    ├── limits       the owner's own limits, beside the standard's
    ├── overrides    values of the standards, replaced by row
    ├── confirmed    who compared which row with which document
    ├── scope        which links the job speaks of
    ├── schedule     where the cable schedule lies
    ├── evidence     where the evidence lies
    ├── labels       how labels are to be written
    ├── dates        when the cable was installed and handed over
    ├── people       who may test
    ├── instruments  which testers may be used, of which kind, and when they were calibrated
    ├── repairs      work after which links must be tested again
    ├── sampling     what was to be tested on a sample alone
    ├── audit        what the owner measured again
    ├── history      how often this contractor's links failed before
    ├── screening    how tests are looked through for doubt
    └── grants       who allowed what is looser than the standard

A key that the file does not state has its default; `Job.given` says which were stated.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from functools import cached_property
from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import Field, PrivateAttr, field_validator
from pydantic_core import PydanticCustomError
from pydantic_core.core_schema import ValidationInfo

from analyzer.job.closing import closing_rules, why_no_ask
from analyzer.job.keys import JobTable as _Table
from analyzer.job.keys import key as _key
from analyzer.job.kinds import (
    ACCURACY_LEVELS,
    OWN_SENTENCE,
    PAIR_PARAMETERS,
    PAIR_TESTS,
    WHOLE_ENTRY,
    AccuracyLevel,
    Amount,
    Candidate,
    ClosingRuleName,
    Coefficients,
    Configuration,
    ConnectionGrade,
    Construction,
    Constructions,
    Count,
    CountRange,
    Day,
    Days,
    DecisionRule,
    EndAllowance,
    Ends,
    Failures,
    Fiber,
    Fibers,
    Grade,
    Inside,
    LabelPattern,
    MultimodeWavelengths,
    Number,
    PairTests,
    Parameter,
    Reference,
    Segment,
    SingleModeWavelengths,
    SpliceKind,
    Standard,
    TakenAs,
    Tests,
    Text,
    Version,
    Wavelength,
    glass_of,
    meets_reading,
    meets_readings,
)
from analyzer.job.pair_models import Conditions, Exemptions, TwistedPair
from analyzer.job.sample_models import Audit, Sampling
from analyzer.job.words import accepted, word
from analyzer.schema import UNIT_OF_PARAMETER

_TEXT = "a text"
_DAY = "a date such as 2026-11-25"
_DB = "a number of dB, 0 or more"
_COUNT = "a whole number, 0 to 9999"
_RANGE = "two whole numbers, the smaller first, such as [2, 4]"
_PATTERNS = 'a list of texts; * stands for anything, ? for one character, such as ["TB-*"]'
_NAMES = 'a list of texts, such as ["A. Example"]'
_VERSION = 'a text of dotted numbers such as "5.1.2"'
_WAVELENGTHS = "a list of whole nanometers from 600 to 1700, each once"


_NO, _YES = False, True

MOST_SPREAD = 3.5
"""Most that a 97 % value may be of its mean: farther apart no distribution of a loss has both (`budget.loss_spread`)."""


class About(_Table):
    """Names and dates for the head of the report."""

    name: Text | None = _key(None, "name of the job", _TEXT)
    owner: Text | None = _key(None, "who will own the cabling", _TEXT)
    contractor: Text | None = _key(None, "who builds it", _TEXT)
    site: Text | None = _key(None, "where it stands", _TEXT)
    reference: Text | None = _key(None, "number of the contract or drawing", _TEXT)
    date: Day | None = _key(None, "date of the job file", _DAY)
    invented: bool = _key(_NO, "the job is invented, and every report says so", "true or false")


class Order(_Table):
    """What was ordered; the command line and the schedule stand above it."""

    standard: Standard | None = _key(None, "family of standards that governs", accepted("standard"))
    edition: Text | None = _key(None, "its edition", 'a text such as "568.3-E"')
    configuration: Configuration | None = _key(None, "what was ordered to be tested", accepted("configuration"))
    grade: Grade | None = _key(None, "category or class of twisted pair", accepted("grade"))
    fiber: Fiber | None = _key(None, "fiber type that was ordered", accepted("type"))
    construction: Construction | None = _key(None, "cable that was ordered", accepted("construction"))


class Facts(_Table):
    """What was built: the weakest source; command line, file and schedule stand above it."""

    fiber: Fiber | None = _key(None, "fiber type", accepted("type"))
    construction: Construction | None = _key(None, "where the cable is made to lie", accepted("construction"))
    length_m: Amount | None = _key(None, "length of every link", "a number of meters, 0 or more")
    mated_pairs: Count | None = _key(None, "matings inside the link and at panel ends", _COUNT)
    splices: Count | None = _key(None, "splices in the link", _COUNT)
    ends: Ends | None = _key(
        None,
        "what end A and end B are",
        f'a list of two, such as ["panel", "plug"], each one of {accepted("end_type")}',
    )
    reference: Reference | None = _key(None, "cords used when the reference was set", accepted("reference"))
    segment: Segment | None = _key(None, "part of the cabling", accepted("segment"))
    launch_cord_m: Amount | None = _key(
        None,
        "length of the launch cord of time-domain traces, where the file states none",
        "a number of meters, 0 or more",
    )
    tail_cord_m: Amount | None = _key(None, "length of their tail cord, the same", "a number of meters, 0 or more")


class Admissible(_Table):
    """What may be, where a fact is missing; None leaves the product's own range."""

    mated_pairs: CountRange | None = _key(None, "least and most mated pairs", _RANGE)
    splices: CountRange | None = _key(None, "least and most splices", _RANGE)
    fiber: Fibers | None = _key(None, "fiber types in use", f"a list, each one of {accepted('type')}")
    construction: Constructions | None = _key(
        None, "cable constructions in use", f"a list, each one of {accepted('construction')}"
    )


class Required(_Table):
    """Which tests a link must have."""

    multimode: MultimodeWavelengths = _key([850, 1300], "wavelengths for multimode", _WAVELENGTHS)
    single_mode: SingleModeWavelengths = _key([1310, 1550], "wavelengths for single-mode", _WAVELENGTHS)
    directions: Literal[1, 2] = _key(1, "how many directions", "1 or 2")
    length: bool = _key(_YES, "a length of fiber is required", "true or false")
    traces_from_m: Amount | None = _key(
        None, "shortest fiber link that needs a time-domain trace; 0 for every one", "a number of meters, 0 or more"
    )
    launch_cord_m: Amount | None = _key(
        None, "shortest launch cord of a time-domain trace", "a number of meters, 0 or more"
    )
    twisted_pair: PairTests = _key(
        list(PAIR_TESTS), "tests of a twisted-pair link", f"a list, each one of {', '.join(PAIR_PARAMETERS)}"
    )
    software_from: Version | None = _key(None, "lowest version of the tester's software", _VERSION)
    firmware_from: Version | None = _key(None, "lowest version of the tester's firmware", _VERSION)
    limit_table_from: Version | None = _key(None, "lowest version of the tester's limit tables", _VERSION)


class Rules(_Table):
    """How the owner wants results to be treated."""

    decision: DecisionRule = _key(
        "simple acceptance with flag", "from which margin a reading is accepted", accepted("decision_rule")
    )
    marginal: Literal["accept", "list apart", "fail"] = _key(
        "list apart",
        "what becomes of a marginal pass that the decision rule accepts",
        '"accept", "list apart" or "fail"',
    )
    accuracy_db: Amount | None = _key(None, "measurement accuracy of loss, where the record states none", _DB)
    accuracy_level: AccuracyLevel | None = _key(
        None, "accuracy level of the field tester of twisted pair, where the record states none",
        f"one of {', '.join(ACCURACY_LEVELS)}",
    )  # fmt: skip
    accuracy_taken_as: TakenAs = _key(
        "even spread", "what a stated accuracy is taken for where a probability is printed", accepted("taken_as")
    )
    events: Literal["show", "decide"] = _key(
        "show", "whether a joint of a time-domain trace that fails makes its link fail", '"show" or "decide"'
    )
    judge_mean: bool = _key(_NO, "the mean of both directions decides in place of each", "true or false")
    sister_min_strands: Annotated[int, Field(ge=3, le=9999)] = _key(
        6, "fewest strands of a cable that are compared with each other", "a whole number, 3 to 9999"
    )
    sister_min_excess_db: Amount = _key(0.2, "least distance from its sisters that is told", _DB)
    length_difference_percent: Amount = _key(
        10.0, "difference of lengths between file and schedule that is told", "a number of percent, 0 or more"
    )


class Allowances(_Table):
    """The owner's own allowances, in place of the standard's; None leaves the standard's."""

    mated_pair_db: Amount | None = _key(None, "allowance for one mated pair", _DB)
    array_pair_db: Amount | None = _key(None, "allowance for one array connection", _DB)
    end_pair_db: EndAllowance | None = _key(
        None,
        "allowance for an end connection against a reference-grade cord",
        f"{_DB}, or one for each glass, such as {{multimode = 0.3, single_mode = 0.5}}",
    )
    splice_db: Amount | None = _key(None, "allowance for one splice", _DB)
    attenuation_db_per_km: dict[Fiber, Coefficients] = _key(
        {},
        "attenuation allowed to the cable, by fiber type and wavelength",
        f"fiber types ({accepted('type')}), each with wavelengths from 600 to 1700 nm and dB/km of 0 or more, "
        "such as OM4 = {850 = 2.5, 1300 = 0.8}",
    )

    @field_validator("attenuation_db_per_km", mode="before")
    @classmethod
    def _one_name_each(cls, value: Any) -> Any:
        if isinstance(value, Mapping):
            names = [word("type", name) for name in value]
            if len({name for name in names if name}) < sum(1 for name in names if name):
                raise PydanticCustomError(OWN_SENTENCE, "one fiber type stands there twice")
        return value

    @field_validator("attenuation_db_per_km")
    @classmethod
    def _meets_readings(cls, value: dict[str, dict[int, float]]) -> dict[str, dict[int, float]]:
        for fiber, coefficients in value.items():
            meets_readings(glass_of(fiber), list(coefficients))
        return value


class Expected(_Table):
    """What a link done well should lose; decides no verdict."""

    connection_grade: ConnectionGrade | None = _key(
        None, "attenuation grade of the connections (IEC 61755-1, IEC 61753-1)", accepted("connection_grade")
    )
    splice: SpliceKind | None = _key(None, "kind of splice", accepted("splice_kind"))
    array_mean_db: Amount | None = _key(None, "mean loss of one array connection of the product", _DB)
    array_97_db: Amount | None = _key(
        None, "loss that 97 of 100 of its array connections stay under", _DB, validate_default=True
    )

    @field_validator("array_97_db")
    @classmethod
    def _one_spread(cls, value: float | None, info: ValidationInfo) -> float | None:
        mean_db = info.data.get("array_mean_db")
        if (value is None) != (mean_db is None):
            raise PydanticCustomError(OWN_SENTENCE, "array_mean_db and array_97_db are given together or not at all")
        if value is not None and mean_db is not None and not 0 < mean_db < value <= MOST_SPREAD * mean_db:
            why = f"it must lie above array_mean_db, and at {MOST_SPREAD:g} times that at most"
            raise PydanticCustomError(OWN_SENTENCE, "{why}", {"why": why})
        return value


class Limit(_Table):
    """One limit of the owner's own: the stricter of it and the standard's decides."""

    name: Text = _key(..., "name of the limit, as reports print it", _TEXT)
    source: Text = _key(..., "document and clause that it stands in", 'a text such as "cabling brief, clause 4.2"')
    parameter: Parameter = _key("loss", "parameter that it limits", accepted("parameter"))
    fiber: Fiber | None = _key(None, "only this fiber type", accepted("type"))
    wavelength_nm: Wavelength | None = _key(None, "only this wavelength", "whole nanometers from 600 to 1700")
    max_db: Number | None = _key(None, "most that is allowed, for a parameter in dB", "a number of dB")
    max: Number | None = _key(
        None, "most that is allowed, for a parameter in another unit", "a number in the unit of the parameter"
    )
    min: Number | None = _key(
        None, "least that is allowed, in the unit of the parameter", "a number in that unit", validate_default=True
    )

    @field_validator("wavelength_nm")
    @classmethod
    def _meets_readings(cls, value: int | None, info: ValidationInfo) -> int | None:
        if value is not None and info.data.get("fiber"):
            meets_reading(glass_of(info.data["fiber"]), value)
        return value

    @field_validator("min")
    @classmethod
    def _one_bound(cls, value: float | None, info: ValidationInfo) -> float | None:
        """Looks at all bounds together; stands on the last key so that it also runs where another key is wrong."""
        if not {"parameter", "max_db", "max"} <= info.data.keys():
            return value
        why = _bound_mistake(info.data["parameter"], info.data["max_db"], info.data["max"], value)
        if why:
            raise PydanticCustomError(WHOLE_ENTRY, "{why}", {"why": why})
        return value

    @property
    def ceiling(self) -> float | None:
        """Most that is allowed, in the unit of the parameter."""
        return self.max if self.max_db is None else self.max_db

    @property
    def floor(self) -> float | None:
        """Least that is allowed, in the unit of the parameter."""
        return self.min


def _bound_mistake(parameter: str, max_db: float | None, most: float | None, least: float | None) -> str:
    """Each ceiling has one way to be written: max_db for decibels, max for every other unit."""
    unit = UNIT_OF_PARAMETER.get(parameter, "dB")
    if parameter == "wire map":
        return "a wire map has no number to limit; remove the entry"
    if max_db is not None and unit != "dB":
        return f"{parameter} is in {unit}, not in dB; write max instead of max_db"
    if most is not None and unit == "dB":
        return f"{parameter} is in dB; write max_db instead of max"
    ceiling = most if max_db is None else max_db
    if ceiling is None and least is None:
        return f"no number stands there; give {'max_db' if unit == 'dB' else 'max'} or min"
    if ceiling is not None and least is not None and least > ceiling:
        return "min is larger than the most that is allowed; exchange them"
    return ""


class Confirmation(_Table):
    """Who compared a row of the values with the document itself."""

    by: Text = _key(..., "who compared it", _TEXT)
    document: Text = _key(..., "document, edition and page that lay open", _TEXT)
    date: Day = _key(..., "when", _DAY)


class Scope(_Table):
    """Which links the job speaks of; a link left out is not asked for."""

    areas: list[Text] = _key([], "only these areas", _PATTERNS)
    exclude_areas: list[Text] = _key([], "not these areas", _PATTERNS)
    labels: list[Text] = _key([], "only these labels", _PATTERNS)
    exclude_labels: list[Text] = _key([], "not these labels", _PATTERNS)


class Schedule(_Table):
    """Where the cable schedule lies."""

    file: Inside | None = _key(None, "its file", "a path below the job folder; else use --schedule")
    sheet: Text | None = _key(None, "its sheet", _TEXT)


class Evidence(_Table):
    """Where the evidence lies."""

    folder: Inside | None = _key(None, "its folder", "a path below the job folder")
    exclude: list[Text] = _key([], "files that are no evidence", _PATTERNS.replace("TB-*", "*.bak.csv"))


class Labels(_Table):
    """How the labels of links are to be written."""

    pattern: LabelPattern | None = _key(
        None,
        "pattern that every tested label must follow as a whole",
        "a regular expression of plain signs, classes, groups, choices and repeats, no repeat inside a repeat, such as "
        "'TB-[0-9]{3}-[0-9]{2}'",
    )


class Dates(_Table):
    """When the cable was there to be tested."""

    installed: Day | None = _key(None, "first day on which a test can have been made", _DAY)
    handover: Day | None = _key(None, "last day on which a test can have been made", _DAY)


class People(_Table):
    """Who may test; an empty list lets everybody."""

    operators: list[Text] = _key([], "operators as the records name them", _NAMES)
    certified_until: dict[Text, Day] = _key(
        {}, "last day of each operator's certificate", 'names with dates, such as "A. Example" = 2026-12-31'
    )


class Instrument(_Table):
    """One calibration of one tester; a tester calibrated twice stands there twice. An empty list lets every tester."""

    tester: Text = _key(..., "tester or serial number as the records name it", _TEXT)
    calibrated_on: Day | None = _key(None, "when it was calibrated; the record's own date wins", _DAY)
    kind: Text | None = _key(None, "kind or model; versions of software are compared within a kind", _TEXT)
    valid_days: Days = _key(365, "how long the calibration holds", "a whole number of days, 1 to 9999")


class Repair(_Table):
    """Work after which links must be tested again: a repair, a move, a cable pulled beside them."""

    links: list[Text] = _key(..., "links that were touched", _PATTERNS)
    date: Day = _key(..., "last day of the work", _DAY)
    note: Text | None = _key(None, "what was done", _TEXT)


class History(_Table):
    """This contractor's earlier jobs, to compare the number of failures with; nothing is assumed where nothing stands."""

    links: Tests | None = _key(None, "links tested there", "a whole number, 1 to 99999999")
    failures: Failures | None = _key(
        None, "links of them that failed their first test", "a whole number, not more than history.links"
    )

    @field_validator("failures")
    @classmethod
    def _not_more_than_links(cls, value: int | None, info: ValidationInfo) -> int | None:
        links = info.data.get("links")
        if value is not None and links is not None and value > links:
            raise PydanticCustomError(OWN_SENTENCE, "more than history.links")
        return value


class Screening(_Table):
    """How tests are looked through for doubt; a screening asks a question and decides nothing."""

    least_seconds: Amount = _key(
        5.0, "least time from one test to the next that a tester needs", "a number of seconds, 0 or more"
    )


class Grant(_Table):
    """One allowed exception: what is looser, and who on the owner's side allowed it."""

    what: Text = _key(..., "dotted key that is looser", "a key that this file states, such as allowances.mated_pair_db")
    by: Text = _key(..., "who granted it", _TEXT)
    date: Day = _key(..., "when", _DAY)
    reference: Text = _key(..., "letter or minute that it stands in", _TEXT)
    note: Text | None = _key(None, "anything worth adding", _TEXT)


class Ask(_Table):
    """One demand of the owner on the closeout package, in the owner's own words."""

    says: Text = _key(..., "the owner's own sentence", _TEXT)
    document: Text | None = _key(None, "document and clause that it stands in", _TEXT)
    fate: Text | None = _key(None, "what becomes of it, where the rule offers a choice", "a word that the rule names")
    days: Count | None = _key(None, "how many days", _COUNT)
    date: Day | None = _key(None, "day that they count from", _DAY)


class Job(_Table):
    """The whole file; `Job()` is the empty job."""

    job: About = _key(About(), About.__doc__ or "", "a table [job]")
    order: Order = _key(Order(), Order.__doc__ or "", "a table [order]")
    facts: Facts = _key(Facts(), Facts.__doc__ or "", "a table [facts]")
    admissible: Admissible = _key(Admissible(), Admissible.__doc__ or "", "a table [admissible]")
    required: Required = _key(Required(), Required.__doc__ or "", "a table [required]")
    rules: Rules = _key(Rules(), Rules.__doc__ or "", "a table [rules]")
    allowances: Allowances = _key(Allowances(), Allowances.__doc__ or "", "a table [allowances]")
    expected: Expected = _key(Expected(), Expected.__doc__ or "", "a table [expected]")
    limits: list[Limit] = _key([], Limit.__doc__ or "", "tables [[limits]]")
    twisted_pair: TwistedPair = _key(TwistedPair(), TwistedPair.__doc__ or "", "a table [twisted_pair]")
    conditions: Conditions = _key(Conditions(), Conditions.__doc__ or "", "a table [conditions]")
    exemptions: Exemptions = _key(Exemptions(), Exemptions.__doc__ or "", "a table [exemptions]")
    candidates: dict[Text, Candidate] = _key(
        {},
        "Which of several limits in doubt holds for twisted pair: grade, configuration and parameter = letter.",
        'limits as `cableproof limits` names them with a letter, such as "6A permanent link insertion loss" = "a"',
    )
    overrides: dict[Text, Number] = _key(
        {}, "Values of the standards, replaced: row id = number.", 'row ids with numbers, such as "ROW-ID" = 0.5'
    )
    confirmed: dict[Text, Confirmation] = _key(
        {},
        Confirmation.__doc__ or "",
        'row ids with tables, such as "ROW-ID" = {by = "…", document = "…", date = 2026-11-25}',
    )
    scope: Scope = _key(Scope(), Scope.__doc__ or "", "a table [scope]")
    schedule: Schedule = _key(Schedule(), Schedule.__doc__ or "", "a table [schedule]")
    evidence: Evidence = _key(Evidence(), Evidence.__doc__ or "", "a table [evidence]")
    closeout: dict[ClosingRuleName, Ask] = _key(
        {},
        "What the owner asks of the closeout package, one table for each rule.",
        f"tables [closeout.RULE] with one of {', '.join(closing_rules())}",
    )
    labels: Labels = _key(Labels(), Labels.__doc__ or "", "a table [labels]")
    dates: Dates = _key(Dates(), Dates.__doc__ or "", "a table [dates]")
    people: People = _key(People(), People.__doc__ or "", "a table [people]")
    instruments: list[Instrument] = _key([], Instrument.__doc__ or "", "tables [[instruments]]")
    repairs: list[Repair] = _key([], Repair.__doc__ or "", "tables [[repairs]]")
    sampling: Sampling = _key(Sampling(), Sampling.__doc__ or "", "a table [sampling]")
    audit: Audit = _key(Audit(), Audit.__doc__ or "", "a table [audit]")
    history: History = _key(History(), History.__doc__ or "", "a table [history]")
    screening: Screening = _key(Screening(), Screening.__doc__ or "", "a table [screening]")
    grants: list[Grant] = _key([], Grant.__doc__ or "", "tables [[grants]]")
    _folder: Path | None = PrivateAttr(default=None)

    @field_validator("closeout")
    @classmethod
    def _each_can_be_met(cls, value: dict[str, Ask]) -> dict[str, Ask]:
        for rule, ask in value.items():
            why = why_no_ask(rule, ask.model_fields_set, ask.fate)
            if why:
                raise PydanticCustomError(OWN_SENTENCE, "{why}", {"why": f"{rule}: {why}"})
        return value

    @property
    def folder(self) -> Path | None:
        """Folder that the file lies in; None for a job that comes from no file."""
        return self._folder

    def lying_in(self, folder: Path) -> Self:
        """The same job with `folder` set."""
        self._folder = folder
        return self

    @cached_property
    def given(self) -> frozenset[str]:
        """Dotted keys that the file states, every level below the tables; lists of tables by their name alone."""
        return stated_keys(self.model_dump(mode="json", exclude_unset=True))

    def says(self, key: str) -> bool:
        """Whether the file states the dotted key."""
        return key in self.given

    def grant_for(self, key: str) -> Grant | None:
        """The grant that covers the dotted key: one for the key itself, else one for a key that contains it."""
        wanted = f"{key.casefold()}."
        covering = [grant for grant in self.grants if wanted.startswith(f"{grant.what.casefold()}.")]
        return max(covering, key=lambda grant: len(grant.what), default=None)

    def hash(self) -> str:
        """Hexadecimal sha256 of the content: order, comments, spelling of words and the folder do not matter.

        Stating a key counts even where its value is the default: a stated fact is said by the job.
        """
        content = {"values": self.model_dump(mode="json"), "given": sorted(self.given)}
        text = json.dumps(content, sort_keys=True, ensure_ascii=True, separators=(",", ":"), allow_nan=False)
        return hashlib.sha256(text.encode("ascii")).hexdigest()


def stated_keys(data: Mapping[str, Any]) -> frozenset[str]:
    """Dotted keys of nested tables, every level below the first."""
    found: set[str] = set()

    def walk(prefix: str, table: Mapping[str, Any]) -> None:
        for name, value in table.items():
            dotted = f"{prefix}.{name}" if prefix else str(name)
            if prefix or isinstance(value, list):
                found.add(dotted)
            if isinstance(value, Mapping):
                walk(dotted, value)

    walk("", data)
    return frozenset(found)
