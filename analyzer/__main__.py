"""`python -m analyzer` is the console command."""

from analyzer.cli.main import run

run()
