"""Models, migrations, and the only code that touches the database."""
