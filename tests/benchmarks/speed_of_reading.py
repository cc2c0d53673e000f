"""How long reading takes beside the bare read of the same file; run by hand, no test.

    python tests/benchmarks/speed_of_reading.py csv     # one million readings, tidy, 8 columns; bare: pandas with pyarrow
    python tests/benchmarks/speed_of_reading.py xlsx    # 20,000 rows of 60 columns; bare: calamine

Invented values from a fixed seed. The median of seven runs each, taken in turn; imports are not counted.
"""

import io
import statistics
import sys
import time

import numpy as np
import pandas as pd

from analyzer.importing import Source, read_source

RUNS = 7


def tidy_csv(readings: int = 1_000_000) -> bytes:
    """Label, wavelength, direction, loss, limit, verdict, length, time of test: one row for each reading."""
    rng = np.random.default_rng(20260101)
    link = np.repeat(np.arange(readings // 4), 4)
    frame = pd.DataFrame(
        {
            "Link": np.char.add("TB-", np.char.zfill(link.astype(str), 6)),
            "Wavelength (nm)": np.tile([1310, 1310, 1550, 1550], readings // 4),
            "Direction": np.tile(["A-B", "B-A"], readings // 2),
            "Loss (dB)": np.round(rng.normal(0.6, 0.1, readings), 2),
            "Limit (dB)": np.round(rng.normal(1.9, 0.1, readings), 2),
            "Result": "PASS",
            "Length (m)": np.round(np.repeat(rng.uniform(20, 900, readings // 4), 4), 1),
            "Tested at": np.datetime_as_string(np.datetime64("2026-01-05T08:00:00") + link * np.timedelta64(30, "s")),
        }
    )
    return frame.to_csv(index=False).encode()


def wide_xlsx(rows: int = 20_000, columns: int = 60) -> bytes:
    """Label, grade and 58 columns of twisted pair: values with their margins by pair and end."""
    import xlsxwriter

    rng = np.random.default_rng(20260102)
    buffer = io.BytesIO()
    book = xlsxwriter.Workbook(buffer, {"constant_memory": True})
    sheet = book.add_worksheet("Results")
    pairs, both = ("12", "36", "45", "78"), ("12-36", "12-45", "12-78", "36-45", "36-78", "45-78")
    ends = [
        (parameter, pair, end)
        for parameter, of in (("NEXT", both), ("Return loss", pairs))
        for pair in of
        for end in ("near end", "far end")
    ]
    heads = [f"{parameter} {pair} {end}{what} (dB)" for parameter, pair, end in ends for what in ("", " margin")]
    heads += [f"Insertion loss {pair} (dB)" for pair in pairs] + [f"Delay {pair} (ns)" for pair in pairs]
    heads += [f"PSNEXT {pair} near end (dB)" for pair in pairs] + [f"PSNEXT {pair} far end (dB)" for pair in pairs]
    heads = heads[: columns - 2]
    sheet.write_row(0, 0, ["Link", "Category", *heads])
    values = np.round(rng.normal(36, 2, (rows, len(heads))), 1)
    for row in range(rows):
        sheet.write_row(row + 1, 0, [f"C-{row:05d}", "6A", *values[row].tolist()])
    book.close()
    return buffer.getvalue()


def medians(bare, whole):
    """Median seconds of both, run in turn, so that a slower minute of the machine hits both."""
    times = ([], [])
    for _ in range(RUNS):
        for number, call in enumerate((bare, whole)):
            begun = time.perf_counter()
            call()
            times[number].append(time.perf_counter() - begun)
    return [statistics.median(one) for one in times]


def main(which: str) -> None:
    if which == "csv":
        source = Source("tidy.csv", tidy_csv())
        bare, whole = medians(
            lambda: pd.read_csv(io.BytesIO(source.data), engine="pyarrow"),
            lambda: read_source(Source(source.name, source.data)),
        )
        allowed = 6
    else:
        import python_calamine

        source = Source("wide.xlsx", wide_xlsx())
        bare, whole = medians(
            lambda: (
                python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(source.data))
                .get_sheet_by_index(0)
                .to_python()
            ),
            lambda: read_source(Source(source.name, source.data)),
        )
        allowed = 2
    imported = read_source(source)
    sys.stdout.write(
        f"{which}: {len(source.data):,} bytes, {len(imported.readings):,} readings, {len(imported.set_aside)} set aside\n"
    )
    sys.stdout.write(f"bare {bare:.2f} s, whole {whole:.2f} s: {whole / bare:.2f} times (aim: at most {allowed})\n")


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else "csv")
