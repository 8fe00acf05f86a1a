"""Sign-in, roles and badges."""
