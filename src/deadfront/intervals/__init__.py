"""Intervals: numbers that are ranges. Interval and gradient arrays over numpy's ufunc protocol; branch and bound; no electricity."""
