"""What each page says, worked out from the snapshot as frozen values; no widget."""
