"""What came in, as a complete requisition, or what is missing."""
