"""What makes a Pi the instrument: panel, sticks, set-up, services, wiring."""
