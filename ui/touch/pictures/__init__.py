"""Pictures of things at the machine, as strokes in a square of 100 by 100: data, no widget."""
