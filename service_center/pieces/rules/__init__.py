"""What makes sense when something is written down, and where a chart's marks stand. Plain values."""

from service_center.pieces.rules.chart import Chart, Mark, chart_of
from service_center.pieces.rules.entries import day_refused, leaves_a_test_owed, must_open_the_case

__all__ = ["Chart", "Mark", "chart_of", "day_refused", "leaves_a_test_owed", "must_open_the_case"]
