"""Pages for any browser: one file each, nothing from outside, opened from a stick; built from a record, no server.

Face: `coupon_page.coupon_page` (one session), `drive_page.drive_page` (the list that leads to many) and
`pages.drive_of` (a whole drive).
"""

PAGE_FILE = "index.html"
FOLDER = "cornerwise"  # where downloads lie on a stick and on the drive
