"""What is kept: session events, the archive, and the files that leave the bench."""
