"""Exports of one truth in many layouts, written by a writer that shares no code with the reader.

`truth` and `copper_truth` hold the invented links, `files` turns cells into files, `layout` says what a layout is, and
every other module is a family of layouts. `writer.all_layouts()` gathers them. Nothing here imports the package under
test: what is written rests on trade words alone, and every heading is made up.
"""
