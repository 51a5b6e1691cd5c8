"""From readings to a verdict: accuracy, adjustment, misreadings, tolerances, decision."""
