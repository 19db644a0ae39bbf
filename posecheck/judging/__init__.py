"""What is said of a rep: thresholds, rules, verdicts, the plan."""
