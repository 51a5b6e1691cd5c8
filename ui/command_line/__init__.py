"""One module a command of `cornerwise`."""
