"""Version of the generator, printed in every truth file."""

GENERATOR_VERSION = "1.1.0"
