"""The touchscreen's screens: `name.py` beside `name.kv`."""
