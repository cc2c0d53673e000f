"""Loading what judges: once, and the collection of garbage works afterwards."""

import gc
import subprocess
import sys


def test_garbage_is_collected_again_after_loading():
    code = (
        "import gc, sys; from analyzer.cli.loading import PIPELINE, load_pipeline; load_pipeline(); "
        "print(gc.isenabled(), gc.get_freeze_count() > 10_000, PIPELINE in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["True", "True", "True"]


def test_loading_again_changes_nothing():
    from analyzer.cli.loading import load_pipeline

    load_pipeline()
    before = gc.get_freeze_count()
    load_pipeline()
    assert gc.get_freeze_count() == before
