"""The coupon that fingers key in on a panel, whatever the machine. SIMULATED: typed, never measured."""

# 120 x 80 mm with keyed seats and a skew of about -0.35 degrees, as a good hand would read it.
READINGS = {
    "diagonal NL-FR": "136.37",
    "diagonal NR-FL": "139.83",
    "near edge": "119.85",
    "right edge": "79.86",
    "far edge": "119.87",
    "left edge": "79.84",
    "corner NL": "90.4",
    "corner NR": "89.6",
    "corner FR": "90.3",
    "corner FL": "89.7",
}
# Open coupons, diagonal NL-FR and NR-FL, settled once each is read twice: square, and as the diagonals above.
OPEN_COUPONS = {"go": ("136.95", "139.66"), "no-go": ("136.37", "139.83")}
