"""The microcontroller side of the bridge: runs on the board, imports nothing of ours."""
