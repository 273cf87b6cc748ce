"""The review desk: a local web page on which people decide what the film could not."""

from cli.review.command import register

__all__ = ["register"]
