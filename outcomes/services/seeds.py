"""Put the shipped measures and protocols into their version tables."""


def seed_versions() -> None:
    """Insert each shipped version once; changed text under an old version is refused."""
