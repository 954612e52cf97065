"""The command line."""


def main() -> None:
    """Run."""
