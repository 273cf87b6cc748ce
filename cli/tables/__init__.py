"""Tables of an audit for the terminal."""

from cli.tables.audit import audit_console, print_audit
from cli.tables.sparkline import sparkline

__all__ = ["audit_console", "print_audit", "sparkline"]
