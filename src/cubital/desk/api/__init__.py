"""The typed JSON API."""
