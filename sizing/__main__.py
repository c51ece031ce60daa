"""Runs the command line with `python -m sizing`."""

from sizing.cli.main import cli

cli(prog_name="strandgauge")
