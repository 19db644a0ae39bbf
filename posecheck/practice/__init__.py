"""The practice folder: plan, roster, layout, notes on clips."""
