"""Plots of an audit as small hand-written SVG, drawn with the look's colours and its marks."""

from cli.charts.gauge import check_gauge
from cli.charts.likelihood import count_likelihood
from cli.charts.pace import pace_chart
from cli.charts.shares import share_bar
from cli.charts.strip import rep_strip
from cli.charts.timeline import TimelineShape, timeline

__all__ = [
    "TimelineShape",
    "check_gauge",
    "count_likelihood",
    "pace_chart",
    "rep_strip",
    "share_bar",
    "timeline",
]
