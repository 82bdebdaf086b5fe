"""A site's folder: its visits, what was measured of them, and what its plan was made from."""
