"""The version, in the one place that the package and its metadata both read."""

__version__ = "0.1.0"
