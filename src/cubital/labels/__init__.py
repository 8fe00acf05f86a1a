"""Blood on paper."""
