"""The grill-side page: one session, tapped on a phone; the server's half. The browser's half is in `static/`."""
