"""The forecasts that pages show again and again.

A forecast follows from circuit, recipe, goal and seed alone and is kept under their fingerprint, so
sharing it among pages changes no answer.
"""

from __future__ import annotations

from ullage.jobs.forecast import Forecasts

FORECASTS = Forecasts()
