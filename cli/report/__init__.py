"""The report: one audit as one self-contained page to read, share and print."""

from cli.report.command import register

__all__ = ["register"]
