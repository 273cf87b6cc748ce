"""Tables of an audit for the terminal."""

from cli.tables.audit import audit_console, print_audit, sparkline

__all__ = ["audit_console", "print_audit", "sparkline"]
