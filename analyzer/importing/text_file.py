"""Text files with delimiters: encoding, delimiter and cells.

Encoding: byte-order mark, then the NUL pattern of UTF-16, then UTF-8, then Windows code page 1252 (which the ladder
ends with because it reads any byte that matters in exports: degree, micro, umlauts). Delimiter: the one of
`; , tab |` that gives the most rows of equal length. The standard `csv` module is the ground truth; a file without
quotes is split by pyarrow into the same cells, faster; a long one never becomes text of Python's as a whole.
"""

from __future__ import annotations

import csv
import io
from collections import Counter
from typing import Any

import numpy as np

from analyzer.errors import FileUnreadable
from analyzer.importing.grid import MAX_CELLS, CellColumn, Sheet, column_of, merge_trimmed_texts, refuse_own
from analyzer.importing.source import EmptyFile, Source
from analyzer.schema import OWN_MARK

DELIMITERS = (";", ",", "\t", "|")
DELIMITER_NAMES = {";": "semicolon", ",": "comma", "\t": "tab", "|": "pipe", "": "none"}
_LOOK = 200
_HEAD = _LOOK * 4096
"""Characters in which the first rows are looked for."""
_LONG = 200_000
"""Bytes from which a file is worth the way through pyarrow; the csv module is as quick for small ones."""
_MOST_COLUMNS = 4096
_BOMS = (
    (b"\xef\xbb\xbf", "utf-8-sig"),
    (b"\xff\xfe\x00\x00", "utf-32"),
    (b"\xff\xfe", "utf-16"),
    (b"\xfe\xff", "utf-16"),
)


def read(source: Source) -> list[Sheet]:
    """The one sheet of a text file.

    Raises:
        FileUnreadable: the bytes are no text.
        OwnOutput: this program wrote it.
    """
    plain = _long_and_plain(source)
    if plain is not None:
        return [plain]
    text, encoding = decode(source)
    _refuse_other_formats(source, text, text)
    if not text or text.isspace():
        raise EmptyFile(source.name, "the file is empty", "export it again")
    remarks: list[tuple[str, str]] = []
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    declared, first_row = _declared_delimiter(text)
    if declared:
        text = text.split("\n", 1)[1] if "\n" in text else ""
    delimiter = declared or find_delimiter(text)
    columns, count = _cells(source, text, delimiter, remarks)
    rows = np.arange(first_row, first_row + count)
    return [Sheet(None, columns, rows, encoding=encoding, delimiter=DELIMITER_NAMES[delimiter], remarks=remarks)]


def decode(source: Source) -> tuple[str, str]:
    """The text of a file and the name of its encoding."""
    data = source.data
    for mark, encoding in _BOMS:
        if data.startswith(mark):
            return data.decode(encoding, errors="replace"), encoding.removesuffix("-sig")
    head = data[:4096]
    even, odd = head[0::2].count(0), head[1::2].count(0)
    if len(head) >= 8 and max(even, odd) > 0.4 * (len(head) // 2) and min(even, odd) < 0.05 * len(head):
        encoding = "utf-16-le" if odd > even else "utf-16-be"
        return data.decode(encoding, errors="replace"), encoding
    _refuse_binary(source, head)
    try:
        return data.decode("utf-8"), "utf-8"
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace"), "cp1252"


def _refuse_binary(source: Source, head: bytes) -> None:
    odd = sum(head.count(byte) for byte in (*range(9), *range(14, 32), 127))
    if odd > 0.02 * len(head) or head.startswith((b"%PDF", b"\x89PNG", b"\xff\xd8\xff", b"GIF8", b"\x1f\x8b")):
        raise FileUnreadable(
            source.name, "the bytes are not text", "give a CSV or XLSX export of the results, not another kind of file"
        )


def _refuse_other_formats(source: Source, begin: str, end: str) -> None:
    head = begin[:65536]
    if '"cableproof-' in head[:4096] or OWN_MARK in head or OWN_MARK in end[-4096:]:
        refuse_own(source)
    start = head.lstrip("\ufeff \n\r\t")[:200].lower()
    if start.startswith(("<!doctype", "<html", "<?xml")):
        raise FileUnreadable(
            source.name, "this is a page or XML, not a table of text", "export the results as CSV or XLSX"
        )


def _first_line(text: str) -> str:
    end = text.find("\n")  # to split the text would copy all of it
    return text if end < 0 else text[:end]


def _declared_delimiter(text: str) -> tuple[str | None, int]:
    first = _first_line(text).strip().strip('"')
    if first.lower().startswith("sep=") and len(first) == 5:
        return first[4], 2
    if first.lower() == "sep=":  # a tab that was trimmed
        return "\t", 2
    return None, 1


def find_delimiter(text: str) -> str:
    """The delimiter that splits most of the first rows into equally many fields; empty where none does."""
    sample = "\n".join(text[:_HEAD].split("\n")[:_LOOK])
    best, best_score = "", 0.0
    for delimiter in DELIMITERS:
        if delimiter not in sample:
            continue
        widths = [len(row) for row in _rows_of(sample, delimiter) if any(cell.strip() for cell in row)]
        several = Counter(width for width in widths if width > 1)
        if not several:
            continue
        score = max(count * min(width, 12) ** 0.5 for width, count in several.items()) + 0.1 * sum(several.values())
        if delimiter == "," and _only_decimal_commas(sample):
            continue
        if score > best_score:
            best, best_score = delimiter, score
    return best


def _only_decimal_commas(sample: str) -> bool:
    """Commas that all stand between digits, beside another delimiter, are decimal marks."""
    import re

    if not any(other in sample for other in (";", "\t", "|")):
        return False
    commas = sample.count(",")
    return commas > 0 and len(re.findall(r"(?<=\d),(?=\d)", sample)) >= 0.9 * commas


def _rows_of(text: str, delimiter: str) -> list[list[str]]:
    csv.field_size_limit(1 << 30)
    reader = csv.reader(io.StringIO(text, newline="\n"), delimiter=delimiter or "\x1f")
    rows = []
    while True:
        try:
            rows.append(next(reader))
        except StopIteration:
            return rows
        except csv.Error:
            rows.append([])


def _cells(source: Source, text: str, delimiter: str, remarks: list[tuple[str, str]]) -> tuple[list[CellColumn], int]:
    if delimiter and '"' not in text and "\x00" not in text and len(text) >= _LONG:
        fast = _split_fast(text.encode("utf-8"), delimiter)
        if fast is not None:
            return fast
    rows = _rows_of(text, delimiter)
    if '"' in text and _quote_ran_away(rows, text):
        remarks.append(("unterminated-quote", "a quotation mark is never closed: quotation marks were read as letters"))
        rows = [line.split(delimiter) if delimiter else [line] for line in text.split("\n")]
    while rows and not any(rows[-1]):
        rows.pop()
    width = max((len(row) for row in rows), default=0)
    if width > _MOST_COLUMNS or width * len(rows) > MAX_CELLS:
        raise FileUnreadable(
            source.name, f"{len(rows)} rows of {width} columns are too many", "split the export into smaller files"
        )
    padded = [row + [""] * (width - len(row)) for row in rows]
    return [column_of(cells) for cells in zip(*padded, strict=True)], len(rows)


def _quote_ran_away(rows: list[list[str]], text: str) -> bool:
    """An unclosed quotation mark swallows the lines after it into one cell of the last row."""
    if text.count('"') % 2 == 0:
        return False
    return bool(rows) and any(cell.count("\n") >= 1 for cell in rows[-1])


def _long_and_plain(source: Source) -> Sheet | None:
    """A long file in UTF-8 without quotation marks, cut by pyarrow straight from its bytes; None for any other."""
    data = source.data
    if len(data) < _LONG or data.startswith(tuple(mark for mark, _ in _BOMS[1:])):
        return None
    data = data.removeprefix(_BOMS[0][0])
    if b'"' in data or b"\x00" in data:
        return None
    _refuse_binary(source, data[:4096])
    if not data.isascii():
        try:
            data.decode("utf-8")
        except UnicodeDecodeError:
            return None
    if b"\r" in data:
        data = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    head = data[: 4 * _HEAD].decode("utf-8", "ignore")
    _refuse_other_formats(source, head, data[-16384:].decode("utf-8", "ignore"))
    if _declared_delimiter(head)[0]:
        return None
    delimiter = find_delimiter(head)
    fast = _split_fast(data, delimiter) if delimiter else None
    if fast is None:
        return None
    columns, count = fast
    return Sheet(None, columns, np.arange(1, count + 1), encoding="utf-8", delimiter=DELIMITER_NAMES[delimiter])


def _split_fast(data: bytes, delimiter: str) -> tuple[list[CellColumn], int] | None:
    """The cells by pyarrow, or None where the rows differ in length (the csv module then does it)."""
    from concurrent.futures import ThreadPoolExecutor

    import pyarrow as pa  # type: ignore[import-untyped]
    import pyarrow.csv as pacsv  # type: ignore[import-untyped]

    last = data[-4096:]
    end = len(data) - len(last) + len(last.rstrip(b"\n"))
    width = data[: data.find(b"\n") + 1].count(delimiter.encode()) + 1
    if width > _MOST_COLUMNS or width < 2:
        return None
    names = [str(number) for number in range(width)]
    try:
        table = pacsv.read_csv(
            pa.BufferReader(pa.py_buffer(data).slice(0, end)),
            read_options=pacsv.ReadOptions(column_names=names, use_threads=True, block_size=_BLOCK),
            parse_options=pacsv.ParseOptions(
                delimiter=delimiter, quote_char=False, escape_char=False, ignore_empty_lines=False
            ),
            convert_options=pacsv.ConvertOptions(
                column_types=dict.fromkeys(names, pa.string()),
                strings_can_be_null=False,
                quoted_strings_can_be_null=False,
            ),
        )
    except pa.ArrowInvalid:
        return None
    rows = table.num_rows
    if width * rows > MAX_CELLS or sum(map(_letters, table.columns)) + width * rows - 1 != end:
        return None
    with ThreadPoolExecutor() as workers:
        return list(workers.map(_encoded, table.columns)), rows


_BLOCK = 1 << 22


def _letters(chunked: Any) -> int:
    """Bytes of all cells of a column: with one mark after each cell they are the file, or something was lost."""
    return sum(_span(chunk) for chunk in chunked.chunks)


def _span(chunk: Any) -> int:
    offsets = np.frombuffer(chunk.buffers()[1], dtype=np.int32)
    return int(offsets[chunk.offset + len(chunk)] - offsets[chunk.offset]) if len(chunk) else 0


def _encoded(chunked: Any) -> CellColumn:
    """A column of texts with each distinct one held once."""
    from analyzer.importing.texts import Texts

    encoded = chunked.dictionary_encode()
    codes = np.concatenate([chunk.indices.to_numpy(zero_copy_only=False) for chunk in encoded.chunks])
    return merge_trimmed_texts(codes, Texts(encoded.chunk(encoded.num_chunks - 1).dictionary))
