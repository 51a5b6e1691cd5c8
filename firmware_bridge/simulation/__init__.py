"""A simulated machine, coupon and instruments that speak real wire formats through pseudo-terminals."""
