import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "report"))

from cli_fixture import pipeline

__all__ = ["pipeline"]
