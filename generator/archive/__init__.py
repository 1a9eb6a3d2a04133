"""Build identity, manifest chain, cleaning, audit and switch-over; the only package that writes into a site."""
