"""Loading what judges, once and quickly; commands call it first, so that `--help` loads none of it."""

from __future__ import annotations

import gc
import sys
from importlib import import_module

PIPELINE = "analyzer.pipeline"


def load_pipeline() -> None:
    """Load the pipeline with the collection of garbage at rest.

    What loading makes stays until the end; to look through it again and again took a fifth of a small check.
    """
    if PIPELINE in sys.modules:
        return
    gc.disable()
    try:
        import_module(PIPELINE)
        gc.freeze()
    finally:
        gc.enable()
