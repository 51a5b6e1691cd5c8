"""Runs on the microcontroller bridge (RP2040, MicroPython), copied there file by file: it imports nothing of ours."""
