"""The workbook before 2007 (.xls), written byte by byte: BIFF8 records in a compound file.

After the open specifications [MS-XLS] (records BOF, BOUNDSHEET, LABEL, NUMBER, EOF) and [MS-CFB] (version 3, sectors of
512 bytes, one stream without a short-stream container). Numbers and texts only: dates are written as text.
"""

from __future__ import annotations

import struct

_SECTOR = 512
_FREE, _END, _FAT = 0xFFFFFFFF, 0xFFFFFFFE, 0xFFFFFFFD
_SHORT_STREAM = 4096  # shorter streams would have to live in the short-stream container


def old_workbook(sheets):
    """Sheets as .xls."""
    return _compound(_stream(sheets))


def _record(number, body=b""):
    return struct.pack("<HH", number, len(body)) + body


def _begin(kind):
    return _record(0x0809, struct.pack("<HHHHII", 0x0600, kind, 0x0DBB, 0x07CC, 0, 6))


def _text(text, length_format):
    return struct.pack(length_format, len(text)) + b"\x01" + text.encode("utf-16-le")


def _stream(sheets):
    pages = [_page(sheet) for sheet in sheets]
    names = [_text(sheet.name, "<B") for sheet in sheets]
    globals_begin, end = _begin(0x0005) + _record(0x0042, struct.pack("<H", 1200)), _record(0x000A)
    offset = len(globals_begin) + sum(4 + 6 + len(name) for name in names) + len(end)
    entries = b""
    for name, page in zip(names, pages, strict=True):
        entries += _record(0x0085, struct.pack("<IBB", offset, 0, 0) + name)
        offset += len(page)
    return globals_begin + entries + end + b"".join(pages)


def _page(sheet):
    width = max(len(row) for row in sheet.rows)
    cells = [_record(0x0200, struct.pack("<IIHHH", 0, len(sheet.rows), 0, width, 0))]
    for r, row in enumerate(sheet.rows):
        for c, cell in enumerate(row):
            if cell is None:
                continue
            if isinstance(cell, (int, float)):
                cells.append(_record(0x0203, struct.pack("<HHHd", r, c, 0, cell)))
            else:
                cells.append(_record(0x0204, struct.pack("<HHH", r, c, 0) + _text(str(cell), "<H")))
    return _begin(0x0010) + b"".join(cells) + _record(0x000A)


def _compound(stream):
    """One stream named Workbook: header, one FAT sector for each 128 sectors, directory, data."""
    size = max(len(stream), _SHORT_STREAM)
    data = -(-size // _SECTOR)
    fats = 1
    while fats * 128 < fats + 1 + data:
        fats += 1
    chain = [_FAT] * fats + [_END] + [fats + 2 + n for n in range(data - 1)] + [_END]
    chain += [_FREE] * (fats * 128 - len(chain))
    header = struct.pack("<8s16sHHHHH6sIIIIIIIII", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", b"", 0x3E, 3, 0xFFFE, 9, 6, b"",
                         0, fats, fats, 0, _SHORT_STREAM, _END, 0, _END, 0)  # fmt: skip
    header += struct.pack("<109I", *range(fats), *[_FREE] * (109 - fats))
    directory = _entry("Root Entry", 5, 1, _END, 0) + _entry("Workbook", 2, _FREE, fats + 1, size)
    directory += _entry("", 0, _FREE, 0, 0) * 2
    return header + struct.pack(f"<{len(chain)}I", *chain) + directory + stream.ljust(data * _SECTOR, b"\0")


def _entry(name, kind, child, start, size):
    raw = (name + "\0").encode("utf-16-le") if name else b""
    return struct.pack("<64sHBBIII16sIQQIQ", raw, len(raw), kind, 1, _FREE, _FREE, child, b"", 0, 0, 0, start, size)
