"""What the terminal has to tell, picked from the judged tables and folded: plain tuples, no layout."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import pandas as pd

from analyzer.report.labels import column_letter, natural_key
from analyzer.report.mends import mend_of_missing, mends_of_findings, usual_mend
from analyzer.report.wording import allowed, margin, measured, reading_name
from analyzer.schema import Analysis

if TYPE_CHECKING:
    from numpy.typing import NDArray

NOT_JUDGED = "could not be judged"
FAILING = ("fail", "marginal fail")
ALSO_SHOWN = 4
"""Further failing readings of a link that are named; a bad link of twisted pair has dozens."""
PASS_LINES = 40
"""More folded lines of passes than this are folded once more, by type alone."""


class LinkLine(NamedTuple):
    """One link with its deciding reading in words."""

    label: str
    type: str
    reading: str
    allowed: str
    margin: str
    accuracy: str
    conforms: str
    """Probability that the limit is kept, in words; only within the accuracy, where it helps."""
    uncertain: bool
    unconfirmed: bool
    where: str
    also: str
    why: str
    mend: str
    proved: str
    """The best grade that the readings of a twisted-pair link prove; empty where none, or where nobody asked."""


class Cause(NamedTuple):
    """Links that are incomplete for one and the same cause."""

    text: str
    mend: str
    labels: Sequence[str]
    rows: Sequence[int]
    """Which rows of the links asked for, in the order of the labels."""
    least_margin_db: float


class PassGroup(NamedTuple):
    """Links of one cable and type that pass, and the one nearest to its limit."""

    type: str
    labels: Sequence[str]
    nearest: LinkLine


class Remark(NamedTuple):
    """What is to be said of judged readings that do not fail, and of how many."""

    text: str
    how_many: int


class SetAside(NamedTuple):
    """Rows or cells set aside for one cause."""

    code: str
    counts_as: str
    how_many: int
    first: str
    reason: str


class View:
    """The judged tables of one analysis, joined once, and asked section by section."""

    def __init__(self, analysis: Analysis) -> None:
        self.analysis = analysis
        self._mends = mends_of_findings(analysis.findings)
        self._in_error = {label for item in analysis.findings if item.severity == "error" for label in item.links}
        self.reasons = analysis.reasons.set_index("reason")
        self._link_of_reading = (
            pd.Series(analysis.records["link"].to_numpy(), index=analysis.records["record"].to_numpy())
            .reindex(analysis.readings["record"])
            .to_numpy()
        )

    def has_error(self, label: str) -> bool:
        """Whether a finding of severity error names the link."""
        return label in self._in_error

    def having(self, verdict: str) -> pd.DataFrame:
        """The links of one verdict in natural order of their labels."""
        links = self.analysis.links
        chosen = links[(links["verdict"] == verdict).to_numpy()]
        order = sorted(range(len(chosen)), key=[natural_key(label) for label in chosen["label"]].__getitem__)
        return chosen.iloc[order]

    def lines(self, links: pd.DataFrame) -> list[LinkLine]:
        """Each link with its deciding reading."""
        readings = self.analysis.readings.set_index("reading").reindex(links["decided_by"])
        judged = self.analysis.judged.set_index("reading").reindex(links["decided_by"])
        limits = self.analysis.limits.set_index("limit_id")["confirmed"]
        reasons = self.reasons.reindex(judged["reason"])
        also = self._also_failing(links)
        where = self._where(readings)
        columns: list[Any] = [
            *(links[name].astype(object) for name in
              ("link", "label", "type", "decided_by", "sentence", "configuration", "proved")),
            *(readings[name].astype(object) for name in
              ("parameter", "wavelength_nm", "pair", "end", "direction", "frequency_mhz", "value", "bound")),
            *(judged[name].astype(object) for name in ("limit", "margin", "accuracy", "p_conform", "verdict")),
            limits.reindex(judged["limit_id"]).astype(object),
            *(reasons[name].astype(object) for name in ("text", "mend")),
        ]  # fmt: skip
        lines = []
        for place, (link, label, kind, number, sentence, built, proved, *rest) in zip(
            where, zip(*columns, strict=True), strict=True
        ):
            parameter, wavelength, pair, end, direction, mhz, value, bound, *more = rest
            limit, margin_, accuracy, p_conform, verdict, confirmed, why, mend = more
            known = isinstance(parameter, str)
            near = verdict in {"marginal pass", "marginal fail"}
            worded = parameter == "wire map" and isinstance(why, str)  # its reason takes the place of a number
            name = reading_name(parameter, wavelength, pair, end, direction, mhz) if known else ""
            value = f": {why}" if worded else _after_name(measured(value, bound, parameter), mhz)
            lines.append(
                LinkLine(
                    label=label,
                    type=kind if isinstance(kind, str) else "type unknown",
                    reading=name + value if known else "",
                    allowed=allowed(limit, parameter) if known else "",
                    margin=margin(margin_, parameter) if known else "",
                    accuracy=measured(accuracy, None, parameter) if known and not math.isnan(accuracy) else "",
                    conforms=f"{p_conform:.0%}".replace("%", " %") if near and not math.isnan(p_conform) else "",
                    uncertain=near,
                    unconfirmed=confirmed is False,
                    where=f"{built.capitalize()}; {place}" if isinstance(built, str) else place,
                    also=_listed([text for other, text in also.get(link, []) if other != number]),
                    why="" if worded else _first_text(why, sentence if verdict not in FAILING else None),
                    mend=_first_text(mend, self._mends.get(label), usual_mend(parameter, end)),
                    proved=proved if isinstance(proved, str) else "",
                )
            )  # fmt: skip
        return lines

    def worst(self) -> LinkLine | None:
        """The failing link that is farthest from its limit; one without any number comes first."""
        links = self.having("fail")
        if links.empty:
            return None
        margins = self.analysis.judged.set_index("reading")["margin"].reindex(links["decided_by"]).to_numpy()
        return self.lines(links.iloc[[int(np.where(np.isnan(margins), -np.inf, margins).argmin())]])[0]

    def causes(self, links: pd.DataFrame) -> list[Cause]:
        """Incomplete links folded by what is missing and by why readings could not be judged; most links first."""
        if links.empty:
            return []
        numbers = links["link"].map(self._first_reason_not_judged()).fillna(-1).astype("int64")
        whys = numbers.map(self.reasons["text"]).astype(object)
        texts = [
            _cause(missing, why, untested=record < 0)
            for missing, why, record in zip(links["missing"].astype(object), whys, links["first_record"], strict=True)
        ]
        table = pd.DataFrame(
            {
                "row": np.arange(len(links)),
                "label": links["label"].to_numpy(),
                "margin": links["margin_db"].to_numpy(),
                "usual": [mend_of_missing(missing) for missing in links["missing"].astype(object)],
                "mend": numbers.map(self.reasons["mend"]).astype(object).fillna("").to_numpy(),
                "text": texts,
            }
        )
        causes = []
        for (text, said), group in table.groupby(["text", "mend"], sort=False):
            labels = group["label"].tolist()
            mend = str(said) or next((self._mends[label] for label in labels if label in self._mends), "")
            mend = mend or group["usual"].iloc[0]
            causes.append(Cause(str(text), mend, labels, group["row"].tolist(), float(group["margin"].min())))
        return sorted(causes, key=lambda cause: (-len(cause.labels), natural_key(cause.labels[0])))

    def passes(self, links: pd.DataFrame) -> list[PassGroup]:
        """Passing links folded to one group for each cable and type."""
        if links.empty:
            return []
        stem = links["label"].str.replace(r"[\W_]*\d+\D*$", "", regex=True)
        grouped = links["cable"].notna() & (links["cable"] != links["label"])  # a link of four pairs is its own cable
        cable = links["cable"].where(grouped, stem)
        keys = [cable.to_numpy(), links["type"].fillna("").to_numpy()]
        if pd.DataFrame({"cable": keys[0], "type": keys[1]}).drop_duplicates().shape[0] > PASS_LINES:
            keys = keys[1:]
        groups: list[pd.DataFrame] = [group for _, group in links.groupby(keys, sort=False)]
        nearest = [int(group["margin_db"].fillna(np.inf).argmin()) for group in groups]
        lines = self.lines(pd.concat([group.iloc[[at]] for group, at in zip(groups, nearest, strict=True)]))
        return [PassGroup(line.type, group["label"].tolist(), line) for group, line in zip(groups, lines, strict=True)]

    def remarks(self) -> list[Remark]:
        """Why readings of twisted pair pass or decide nothing (exempted, bounded, in doubt), folded; most first.

        A reason may hold several clauses, set apart by semicolons: each is counted for itself.
        """
        judged, facts = self.analysis.judged, self.analysis.facts
        pairs = facts.loc[facts["medium"] == "twisted pair", "record"]
        which = judged["in_force"] & (judged["reason"] >= 0) & ~judged["verdict"].isin([*FAILING, "not judged"])
        which &= self.analysis.readings["record"].isin(pairs).to_numpy()
        if not which.any():
            return []
        counts = judged.loc[which, "reason"].map(self.reasons["text"]).str.split("; ").explode().value_counts()
        return sorted((Remark(str(text), int(many)) for text, many in counts.items()), key=_most_first)

    def set_aside(self) -> list[SetAside]:
        """Rows and cells set aside, folded by cause, most first."""
        table = self.analysis.set_aside
        names = self.analysis.files.set_index("file")["name"]
        folded = []
        for (code, counts_as), group in table.groupby(["code", "counts_as"], sort=False, observed=True):
            first = group.iloc[0]
            place = _place(names.get(first["file"]), first["sheet"], first["row"], first["col"], None)
            folded.append(SetAside(str(code), str(counts_as), len(group), place, str(first["reason"])))
        return sorted(folded, key=lambda cause: (-cause.how_many, cause.code))

    def unconfirmed(self) -> tuple[int, int]:
        """How many verdicts in force rest on limits not confirmed, and on how many such limits."""
        judged = self.analysis.judged
        limits = self.analysis.limits
        doubtful = limits.loc[~limits["confirmed"], "limit_id"]
        used = judged.loc[judged["in_force"] & judged["limit_id"].isin(doubtful), "limit_id"]
        return len(used), int(used.map(limits.set_index("limit_id")["rows"]).nunique())

    def _first_reason_not_judged(self) -> pd.Series[Any]:
        judged = self.analysis.judged
        which = (judged["verdict"] == "not judged") & judged["in_force"] & (judged["reason"] >= 0)
        table = pd.DataFrame({"link": self._link_of_reading[which], "reason": judged.loc[which, "reason"]})
        return table.drop_duplicates("link").set_index("link")["reason"]

    def _also_failing(self, links: pd.DataFrame) -> dict[int, list[tuple[int, str]]]:
        """For each link its failing readings that count: number and words."""
        judged = self.analysis.judged
        which = judged["verdict"].isin(FAILING) & judged["in_force"] & judged["counts"]
        mine: NDArray[np.bool_] = which.to_numpy() & np.isin(self._link_of_reading, links["link"].to_numpy())
        readings = self.analysis.readings[mine]
        found: dict[int, list[tuple[int, str]]] = {}
        margins = judged.loc[mine, "margin"].to_numpy()
        order = np.lexsort((margins, self._link_of_reading[mine]))
        names = ("reading", "bound", "parameter", "wavelength_nm", "pair", "end", "direction", "frequency_mhz")
        columns = [readings[name].astype(object).iloc[order] for name in names]
        for link, short, (number, bound, parameter, *rest) in zip(
            self._link_of_reading[mine][order], margins[order], zip(*columns, strict=True), strict=True
        ):
            room = margin(short, parameter) or measured(np.nan, bound, parameter)
            text = f"{reading_name(parameter, *rest)} {f'({room})' if room else ''}".rstrip()
            found.setdefault(int(link), []).append((number, text))
        return found

    def _where(self, readings: pd.DataFrame) -> list[str]:
        blocks = self.analysis.blocks.set_index("block")
        names = blocks["file"].map(self.analysis.files.set_index("file")["name"])
        headings = self.analysis.columns.set_index(["block", "col"])["heading"]
        headings = headings[~headings.index.duplicated()]
        keys = pd.MultiIndex.from_arrays([readings["block"], readings["col"]])
        columns = [
            readings["block"].map(names), readings["block"].map(blocks["sheet"]), readings["row"], readings["col"],
            headings.reindex(keys),
        ]  # fmt: skip
        return [_place(*row) for row in zip(*(column.astype(object) for column in columns), strict=True)]


def _most_first(remark: Remark) -> tuple[int, str]:
    return -remark.how_many, remark.text


def _after_name(value: str, frequency_mhz: float) -> str:
    """The value as it follows the name of its reading; a colon keeps it apart from a frequency."""
    return f"{':' if frequency_mhz > 0 else ''} {value}" if value else ""


def _listed(texts: Sequence[str]) -> str:
    """The first few texts, and how many more there are."""
    more = len(texts) - ALSO_SHOWN
    return "; ".join(texts) if more <= 1 else f"{'; '.join(texts[:ALSO_SHOWN])}; and {more} more"


def _cause(missing: object, why: object, *, untested: bool) -> str:
    """Why a link is incomplete, in words: what is missing of it, and why what is there could not be judged."""
    if untested:
        return "in the schedule, but no test result"
    said = why if isinstance(why, str) else ""
    parts = missing.split("; ") if isinstance(missing, str) and missing else []
    if said:  # the reason says it already
        parts = [part for part in parts if not part.endswith(NOT_JUDGED) and part not in said]
    lacking = f"missing: {'; '.join(parts)}" if parts else ""
    return "; ".join(text for text in (said, lacking) if text) or NOT_JUDGED


def _first_text(*texts: object) -> str:
    return next((text for text in texts if isinstance(text, str) and text), "")


def _place(name: object, sheet: object, row: float, col: float, heading: object) -> str:
    """Where something stands, in words; empty where nothing is known."""
    if not isinstance(name, str):
        return ""
    text = name
    if isinstance(sheet, str):
        text += f", sheet {sheet}"
    if row > 0:
        text += f", row {row:.0f}"
    if col >= 0:
        text += f", column {column_letter(int(col))}"
    if isinstance(heading, str):
        text += f' "{heading}"'
    return text
