"""Tests, as a package: an installed library brings a top-level package of the same name, which would win otherwise."""
