"""``repwitness batch``: many films with one request, on this machine or on a cluster."""

from cli.batch.command import register

__all__ = ["register"]
