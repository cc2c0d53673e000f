"""The closeout package: a bag that holds the evidence untouched, what was computed from it, and how to check both.

Read `contents` first (what the package holds), then `bag` (how it is written), `payload` (the parts one by one).
"""
