"""The report as PDF. Read `document` (what stands where), then `sheet` (the paper), `charts`, `link_blocks`."""

from analyzer.report.pdf.document import pdf_bytes

__all__ = ["pdf_bytes"]
