"""Forms of random shape with the truth that made them; all invented. Shares no code with the reader.

`python tests/importing/random_forms.py SECONDS` searches for forms that are read otherwise than they were meant.
"""

from __future__ import annotations

import csv
import io
import random
import sys
import time
from dataclasses import dataclass, field

WORDS = {
    "en": {"label": "Link", "type": "Fiber type", "grade": "Category", "length": "Length", "date": "Date", "operator": "Operator",
           "tester": "Tester", "verdict": "Result", "loss": "Loss", "wavelength": "Wavelength", "next": "NEXT",
           "return loss": "Return loss", "insertion loss": "Insertion loss"},
    "de": {"label": "Strecke", "type": "Fasertyp", "grade": "Kategorie", "length": "Länge", "date": "Datum", "operator": "Prüfer",
           "tester": "Messgerät", "verdict": "Ergebnis", "loss": "Dämpfung", "wavelength": "Wellenlänge", "next": "NEXT",
           "return loss": "Rückflussdämpfung", "insertion loss": "Einfügedämpfung"},
    "fr": {"label": "Liaison", "type": "Type de fibre", "grade": "Catégorie", "length": "Longueur", "date": "Date", "operator": "Opérateur",
           "tester": "Testeur", "verdict": "Résultat", "loss": "Affaiblissement", "wavelength": "Longueur d'onde", "next": "NEXT",
           "return loss": "Perte de retour", "insertion loss": "Perte d'insertion"},
}  # fmt: skip
PASS = {"en": "PASS", "de": "bestanden", "fr": "conforme"}
UNKNOWN = {"Grumble": "7b", "Humor": "dry", "Shade": "grey"}


@dataclass
class Truth:
    """What one form says of its link; `readings` by (parameter, wavelength, pair)."""

    label: str
    facts: dict[str, object] = field(default_factory=dict)
    readings: dict[tuple[str, int, str], float] = field(default_factory=dict)


@dataclass
class Made:
    """A file of forms, its truth, and the labels that mean nothing and must be told."""

    name: str
    data: bytes
    truths: list[Truth]
    unknown: set[str]
    rows: list[list[str]]


def make(rng: random.Random) -> Made:
    """One file of forms."""
    language = rng.choice(["en", "en", "de", "fr"])
    copper = rng.random() < 0.3
    delimiter = rng.choice([",", ";", "\t"])
    style = {
        "words": WORDS[language], "pass": PASS[language], "copper": copper,
        "comma": delimiter != "," and rng.random() < 0.5, "colon": ":" if rng.random() < 0.7 else "",
        "in cell": rng.random() < 0.4, "one wavelength": not copper and rng.random() < 0.3,
        "two wavelengths": not copper and rng.random() < 0.2,
    }  # fmt: skip
    chosen = rng.sample(["type", "length", "date", "operator", "tester", "verdict"], rng.randint(2, 6))
    unknown = rng.sample(sorted(UNKNOWN), rng.choice([0, 0, 1]))
    count, abreast = rng.randint(1, 6), rng.randint(1, 3)
    gap = rng.choice([0, 1, 1])
    side = rng.choice([1, 1, 1, 2]) if count > 1 and abreast < 3 else 1
    style["key second"], blank_inside = rng.random() < 0.15, rng.random() < 0.15
    whole = style["colon"] and side == 1 and rng.random() < 0.1
    preface = [["Reference", "one cord"], []] if count > 1 and rng.random() < 0.2 else []
    separator = rng.choice([[[]], [[]], [[], []], [], [["---"]]])
    holes = rng.random() < 0.2
    state = rng.getrandbits(32)
    forms, truths = [], []
    for number in range(count):
        pairs, truth = _pairs(random.Random(state), f"KX-{number + 1:02d}", number, style, chosen, unknown)
        if holes and rng.random() < 0.5:
            at = next((i for i, pair in enumerate(pairs) if pair[2] in truth.facts), None)
            if at is not None:
                if truth.facts.pop(pairs[at][2]) == truth.readings.get(("length", -1, "")):
                    del truth.readings["length", -1, ""]
                pairs[at] = (pairs[at][0], "", pairs[at][2])
        if whole:
            pairs = [(f"{name} {value}" if value else name, "", what) for name, value, what in pairs]
        lines = [pairs[i : i + abreast] for i in range(0, len(pairs), abreast)]
        forms.append([[cell for pair in line for cell in (pair[0], pair[1], *[""] * gap)] for line in lines])
        truths.append(truth)
    rows: list[list[str]] = [["Test record"], []] if rng.random() < 0.2 else []
    width = abreast * (2 + gap)
    rows += [[name + style["colon"], value] for name, value in preface[:1]] + preface[1:]
    for start in range(0, count, side):
        together = forms[start : start + side]
        if start:
            rows += separator
        for number, line in enumerate(zip(*together, strict=True)):
            if blank_inside and number == 1:
                rows.append([])
            rows.append([cell for form in line for cell in (*form, *[""] * (width - len(form)))])
    if rng.random() < 0.3:
        return Made("forms.xlsx", _workbook(rows, merge=rng.random() < 0.5 and gap == 1), truths, set(unknown), rows)
    buffer = io.StringIO()
    csv.writer(buffer, delimiter=delimiter, lineterminator="\n").writerows(rows)
    return Made("forms.csv", buffer.getvalue().encode(), truths, set(unknown), rows)


def _pairs(rng, label, number, style, chosen, unknown):
    words, colon, truth = style["words"], style["colon"], Truth(label)

    def written(value, unit, name):
        text = f"{value}".replace(".", ",") if style["comma"] else f"{value}"
        return (name + colon, f"{text} {unit}") if style["in cell"] else (f"{name} ({unit}){colon}", text)

    facts = []
    for name in chosen:
        if name == "type":
            value = "6A" if style["copper"] else "OM4"
            facts.append(
                (words["grade" if style["copper"] else "type"] + colon, value, "grade" if style["copper"] else "type")
            )
            truth.facts["grade" if style["copper"] else "type"] = value
        elif name == "length":
            value = 31 + 7 * number + 0.5
            facts.append((*written(value, "m", words["length"]), "length_m"))
            truth.facts["length_m"] = value
            if style["copper"]:
                truth.readings["length", -1, ""] = value
        else:
            value = {"date": "2026-05-01", "operator": "crew K", "tester": "T-11", "verdict": style["pass"]}[name]
            facts.append((words[name] + colon, value, name))
            if name != "date":
                truth.facts["declared_verdict" if name == "verdict" else name] = "pass" if name == "verdict" else value
    facts += [(name + colon, UNKNOWN[name], "") for name in unknown]
    readings = []
    if style["copper"]:
        for name, pair, base in (("next", "12-36", 40), ("return loss", "1-2", 20), ("insertion loss", "3-6", 15)):
            value = round(base + number + 0.25, 2)
            readings.append((*written(value, "dB", f"{words[name]} {pair}"), ""))
            truth.readings[name, -1, pair.replace("12-36", "1-2/3-6")] = value
    elif style["one wavelength"] or style["two wavelengths"]:
        for wave in (850, 1300)[: 2 if style["two wavelengths"] else 1]:
            value = round(wave / 1000 - 0.3 + 0.07 * number, 2)
            readings.append(
                [(*written(wave, "nm", words["wavelength"]), ""), (*written(value, "dB", words["loss"]), "")]
            )
            truth.readings["loss", wave, ""] = value
    else:
        for wave in (850, 1300):
            value = round(wave / 1000 - 0.3 + 0.07 * number, 2)
            readings.append((*written(value, "dB", f"{words['loss']} {wave} nm"), ""))
            truth.readings["loss", wave, ""] = value
    body = [*facts, *readings]
    if not style["two wavelengths"]:
        body = [pair for part in body for pair in (part if isinstance(part, list) else [part])]
        rng.shuffle(body)
    else:
        rng.shuffle(facts)
        body = [*facts, *(pair for part in readings for pair in part)]
    name = (words["label"] + colon, label, "label")
    return ([body[0], name, *body[1:]] if style["key second"] and body[0][2] != "" else [name, *body]), truth


def _workbook(rows, *, merge):
    import xlsxwriter

    buffer = io.BytesIO()
    book = xlsxwriter.Workbook(buffer, {"in_memory": True})
    sheet = book.add_worksheet("Record")
    for r, row in enumerate(rows):
        for c, cell in enumerate(row):
            if not cell:
                continue
            value = float(cell) if cell.replace(".", "", 1).isdigit() else cell
            if merge and c % 3 == 1 and c + 1 < len(row) and len(row) > 1:
                sheet.merge_range(r, c, r, c + 1, value)
            else:
                sheet.write(r, c, value)
    book.close()
    return buffer.getvalue()


def differences(made: Made) -> list[str]:
    """What was read otherwise than it was meant, one sentence each."""
    from analyzer.errors import InputError
    from analyzer.importing import Source, read_source

    try:
        imported = read_source(Source(made.name, made.data))
    except InputError as error:
        return [f"refused: {error}"]
    records, readings, said = imported.records, imported.readings, []
    wanted = [truth.label for truth in made.truths]
    if list(dict.fromkeys(records["label"])) != wanted:
        said.append(f"links {list(dict.fromkeys(records['label']))}, not {wanted}")
    for truth in made.truths:
        mine = records[records["label"] == truth.label]
        for name, value in truth.facts.items():
            found = set(mine[name].astype(object).where(mine[name].notna(), None))
            if found != {value}:
                said.append(f"{truth.label}: {name} is {found}, not {value}")
        its = readings[readings["record"].isin(mine["record"])]
        waves = dict(zip(mine["record"], mine.get("wavelength_nm", [-1] * len(mine)), strict=True))
        found = sorted(
            (
                str(row.parameter).lower(),
                int(row.wavelength_nm if row.wavelength_nm > 0 else waves[row.record]),
                "" if row.pair != row.pair else str(row.pair),
                round(row.value, 4),
            )
            for row in its.itertuples()
        )
        meant = sorted((name.lower(), wave, pair, value) for (name, wave, pair), value in truth.readings.items())
        if found != meant:
            said.append(f"{truth.label}: readings {found}, not {meant}")
    told = set(imported.columns["heading"].dropna())
    said += [f"{name} is not told" for name in made.unknown if not any(name in heading for heading in told)]
    file = imported.file
    if file["cells_read"] != file["cells_used"] + file["cells_set_aside"]:
        said.append("the accounts of cells do not add up")
    return said


def _search(seconds: float) -> None:
    end, seed, finds = time.monotonic() + seconds, 0, []
    while time.monotonic() < end:
        made = make(random.Random(seed))
        said = differences(made)
        if said:
            finds.append((sum(map(len, made.rows)), seed, said, made))
        seed += 1
    print(f"{seed} files, {len(finds)} read otherwise than meant")  # noqa: T201
    for _, number, said, made in sorted(finds, key=lambda find: find[:2])[:8]:
        print(f"--- seed {number} {made.name}", *said[:3], *(",".join(row) for row in made.rows), sep="\n")  # noqa: T201


if __name__ == "__main__":
    _search(float(sys.argv[1]))
