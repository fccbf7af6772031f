"""Statistical quality tracker for engine machining: from measurement files to the four answers."""

__version__ = "0.1.0"
