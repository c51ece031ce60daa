"""Runs the command line as `python -m sizing`."""

from sizing.cli.main import cli

cli(prog_name="strandgauge")
