"""What each test needs, with its source: tables, and what reads them."""
