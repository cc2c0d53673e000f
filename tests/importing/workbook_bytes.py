"""Small workbooks written byte by byte: an XLSX of raw sheet XML, an ODS, and a compound file as a password makes one."""

import io
import struct
import zipfile

_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_PACKAGE = "http://schemas.openxmlformats.org/package/2006"
_TABLE = "urn:oasis:names:tc:opendocument:xmlns"


def zipped(files):
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in files.items():
            archive.writestr(name, text)
    return buffer.getvalue()


def xlsx(rows, *, before="", date1904=False):
    """A workbook with one sheet `S`, its rows given as XML."""
    part = "application/vnd.openxmlformats-officedocument.spreadsheetml"
    return zipped(
        {
            "[Content_Types].xml": f'<?xml version="1.0"?><Types xmlns="{_PACKAGE}/content-types">'
            '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
            '<Default Extension="xml" ContentType="application/xml"/>'
            f'<Override PartName="/xl/workbook.xml" ContentType="{part}.sheet.main+xml"/>'
            f'<Override PartName="/xl/styles.xml" ContentType="{part}.styles+xml"/>'
            f'<Override PartName="/xl/worksheets/sheet1.xml" ContentType="{part}.worksheet+xml"/></Types>',
            "_rels/.rels": f'<?xml version="1.0"?><Relationships xmlns="{_PACKAGE}/relationships">'
            f'<Relationship Id="rId1" Type="{_OFFICE}/officeDocument" Target="xl/workbook.xml"/></Relationships>',
            "xl/_rels/workbook.xml.rels": f'<?xml version="1.0"?><Relationships xmlns="{_PACKAGE}/relationships">'
            f'<Relationship Id="rId1" Type="{_OFFICE}/worksheet" Target="worksheets/sheet1.xml"/>'
            f'<Relationship Id="rId2" Type="{_OFFICE}/styles" Target="styles.xml"/></Relationships>',
            "xl/styles.xml": f'<?xml version="1.0"?><styleSheet xmlns="{_MAIN}"><cellXfs count="2"><xf numFmtId="0"/>'
            '<xf numFmtId="14" applyNumberFormat="1"/></cellXfs></styleSheet>',
            "xl/workbook.xml": f'<?xml version="1.0"?><workbook xmlns="{_MAIN}" xmlns:r="{_OFFICE}">'
            f"{'<workbookPr date1904=' + chr(34) + '1' + chr(34) + '/>' if date1904 else ''}"
            '<sheets><sheet name="S" sheetId="1" r:id="rId1"/></sheets></workbook>',
            "xl/worksheets/sheet1.xml": f'<?xml version="1.0"?>{before}<worksheet xmlns="{_MAIN}">'
            f"<sheetData>{rows}</sheetData></worksheet>",
        }
    )


def xlsx_text(reference, text):
    return f'<c r="{reference}" t="inlineStr"><is><t>{text}</t></is></c>'


XLSX_TABLE = (
    '<row r="1">' + xlsx_text("A1", "Link") + xlsx_text("B1", "Loss 850 nm (dB)") + "</row>"
    '<row r="2">' + xlsx_text("A2", "L1") + '<c r="B2"><v>0.4</v></c></row>'
)


def ods(rows):
    """An OpenDocument spreadsheet with one table `Results`, its rows given as XML."""
    spaces = " ".join(f'xmlns:{name}="{_TABLE}:{name}:1.0"' for name in ("office", "table", "text"))
    kind = "application/vnd.oasis.opendocument.spreadsheet"
    return zipped(
        {
            "mimetype": kind,
            "META-INF/manifest.xml": f'<?xml version="1.0"?><manifest:manifest xmlns:manifest="{_TABLE}:manifest:1.0">'
            f'<manifest:file-entry manifest:full-path="/" manifest:media-type="{kind}"/></manifest:manifest>',
            "content.xml": f'<?xml version="1.0"?><office:document-content {spaces} office:version="1.2"><office:body>'
            f'<office:spreadsheet><table:table table:name="Results">{rows}</table:table></office:spreadsheet>'
            "</office:body></office:document-content>",
        }
    )


def ods_row(*cells, repeated=1):
    out = []
    for cell in cells:
        if isinstance(cell, str):
            out.append(f'<table:table-cell office:value-type="string"><text:p>{cell}</text:p></table:table-cell>')
        else:
            out.append(
                f'<table:table-cell office:value-type="float" office:value="{cell}"><text:p>{cell}</text:p></table:table-cell>'
            )
    again = f' table:number-rows-repeated="{repeated}"' if repeated > 1 else ""
    return f"<table:table-row{again}>{''.join(out)}</table:table-row>"


def compound_file(streams):
    """A compound file (MS-CFB, version 3) with these streams, each filled up to whole sectors of 512 bytes, none mini."""
    free, end, fat_mark = 0xFFFFFFFF, 0xFFFFFFFE, 0xFFFFFFFD
    sectors, fat, entries = [], [], []

    def chain(data):
        first = len(sectors)
        parts = [data[at : at + 512].ljust(512, b"\x00") for at in range(0, len(data), 512)]
        for number, part in enumerate(parts):
            sectors.append(part)
            fat.append(end if number == len(parts) - 1 else first + number + 1)
        return first

    sectors.append(b"")  # sector 0 holds the allocation table
    fat.append(fat_mark)
    for name, content in streams.items():
        data = content.ljust(4096, b"\x00")  # shorter ones would live in the mini stream
        entries.append((name, 2, chain(data), len(data)))

    def entry(name, kind, start, size, child=free, right=free):
        text = (name + "\x00").encode("utf-16-le")
        return (
            text.ljust(64, b"\x00") + struct.pack("<HBB", len(text), kind, 1) + struct.pack("<III", free, right, child)
            + b"\x00" * 16 + struct.pack("<I", 0) + b"\x00" * 16 + struct.pack("<IQ", start, size)
        )  # fmt: skip

    entries.sort(key=lambda item: (len(item[0]), item[0].upper()))
    listing = entry("Root Entry", 5, end, 0, child=1 if entries else free)
    for number, (name, kind, start, size) in enumerate(entries, start=1):
        listing += entry(name, kind, start, size, right=number + 1 if number < len(entries) else free)
    first_of_listing = chain(listing)
    sectors[0] = b"".join(struct.pack("<I", mark) for mark in fat).ljust(512, b"\xff")
    header = (
        bytes.fromhex("D0CF11E0A1B11AE1") + b"\x00" * 16 + struct.pack("<HHHHH", 0x3E, 3, 0xFFFE, 9, 6) + b"\x00" * 6
        + struct.pack("<IIIIIIIII", 0, 1, first_of_listing, 0, 4096, end, 0, end, 0) + struct.pack("<I", 0)
        + struct.pack("<I", free) * 108
    )  # fmt: skip
    return header + b"".join(sectors)


def biff8(cells):
    """The `Workbook` stream of an .xls file (BIFF8) with one sheet `Results`: texts and numbers by (row, column)."""

    def record(kind, data=b""):
        return struct.pack("<HH", kind, len(data)) + data

    def begin(what):
        return record(0x0809, struct.pack("<HHHHII", 0x0600, what, 0x0DBB, 0x07CC, 0, 6))

    body = begin(0x0010)
    for (row, col), value in cells.items():
        if isinstance(value, str):
            text = value.encode("utf-16-le")
            body += record(0x0204, struct.pack("<HHHHB", row, col, 0, len(value), 1) + text)
        else:
            body += record(0x0203, struct.pack("<HHHd", row, col, 0, value))
    body += record(0x000A)
    name = b"Results"
    head = begin(0x0005) + record(0x0042, struct.pack("<H", 1200))
    place = len(head) + 4 + 8 + len(name) + 4
    head += record(0x0085, struct.pack("<IBBBB", place, 0, 0, len(name), 0) + name) + record(0x000A)
    return head + body
