"""Coupon, its features, its shape, and the files to cut it from."""
