"""What may happen next at the chair, and what is wrong now."""
