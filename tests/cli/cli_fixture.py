"""Runs one command line in this process, with the invented analysis in place of the pipeline."""

import sys
from types import ModuleType

import pytest
from terminal_fixture import thirty_links


class Pipeline:
    """What the command handed to `analyze`, and what `analyze` gives back."""

    def __init__(self):
        self.analysis = thirty_links()
        self.paths = self.job = self.given = None
        self.raises = None

    def analyze(self, paths, job=None, *, given=None):
        self.paths, self.job, self.given = paths, job, given
        if self.raises is not None:
            raise self.raises
        return self.analysis


@pytest.fixture
def pipeline(monkeypatch):
    stand_in = Pipeline()
    module = ModuleType("analyzer.pipeline")
    module.analyze = stand_in.analyze
    monkeypatch.setitem(sys.modules, "analyzer.pipeline", module)
    return stand_in
