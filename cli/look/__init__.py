"""The look that report and review desk share: style sheet, filters, template environment."""

from cli.look.pages import environment, style

__all__ = ["environment", "style"]
